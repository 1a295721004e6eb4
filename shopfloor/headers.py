"""What every answer says to the browser, beside Django's own headers."""

from __future__ import annotations

from collections.abc import Callable

from csp.constants import HEADER
from csp.middleware import CSPMiddleware
from csp.utils import build_policy
from django.conf import settings
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


class ContentPolicyMiddleware(CSPMiddleware):
    """The content policy: put together once, as it is the same for all who ask for no other."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        super().__init__(get_response)
        self._usual = build_policy()

    def process_response(
        self, request: HttpRequest, response: HttpResponseBase
    ) -> HttpResponseBase:
        """The answer with it."""
        if settings.DEBUG or any(name.startswith("_csp") for name in vars(response)):
            return super().process_response(request, response)
        response.headers.setdefault(HEADER, self._usual)
        return response
