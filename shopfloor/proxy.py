"""What a proxy on this machine may say of a request: who asks, and the request's number.

In production alone, where there is one; anywhere else a visitor could write it.
"""

from __future__ import annotations

import re
from ipaddress import ip_address
from uuid import uuid4

from django.conf import settings
from django.http import HttpRequest

REQUEST_ID_HEADER = "X-Request-ID"
REQUEST_ID_LENGTH = 12  # short enough to be read out
OWN_ADDRESSES = frozenset({"127.0.0.1", "::1", ""})  # nothing: a socket that is a file

_REQUEST_ID = re.compile(r"[A-Za-z0-9._-]{8,64}")


def client_address(request: HttpRequest) -> str | None:
    """The network address that asks; `None` where there is none."""
    peer = str(request.META.get("REMOTE_ADDR") or "")
    # The last one is what our proxy saw; those before it are what a visitor said.
    said = request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip()
    return (_address(said) if is_by_proxy(request) else None) or _address(peer)


def request_id(request: HttpRequest) -> str:
    """The number under which the proxy knows the request, else a new one."""
    said = request.headers.get(REQUEST_ID_HEADER, "")
    if is_by_proxy(request) and _REQUEST_ID.fullmatch(said):
        return said
    return uuid4().hex[:REQUEST_ID_LENGTH]


def is_by_proxy(request: HttpRequest) -> bool:
    """Whether what the headers say of the request is our proxy's word."""
    return settings.SHOP_PRODUCTION and request.META.get("REMOTE_ADDR", "") in OWN_ADDRESSES


def _address(text: str) -> str | None:
    try:
        return str(ip_address(text))
    except ValueError:
        return None
