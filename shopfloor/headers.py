"""What every answer says to the browser, beside Django's own headers and the content policy."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest
from django.http.response import HttpResponseBase

HEADERS = {
    # A tablet is shared: what one person saw is not left for the next in the browser's store.
    "Cache-Control": "no-store",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), display-capture=(), geolocation=(), microphone=(), "
    "midi=(), payment=(), publickey-credentials-get=(), serial=(), usb=()",
}


class HeaderMiddleware:
    """Adds them where the answer does not say otherwise: static files may be stored."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Answer with them."""
        answer = self._get_response(request)
        for name, value in HEADERS.items():
            answer.headers.setdefault(name, value)
        return answer
