"""How much a request may send: refused by what it says of its size, before a byte is read."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.http.response import HttpResponseBase

from shopfloor.access import view_class
from shopfloor.problems import BODY_TOO_BIG, Problem, answer_problem


class BodyLimitMiddleware:
    """Refuses a body above the door's `body_size_max`, else above what any door takes.

    What to do instead is the door's `too_big_advice`, where it has one.

    Before the check for forged forms, which reads the body. A request that does not say how much
    it sends is served as one without a body: so does Django, and our servers count for themselves.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Go on: which door it is for is known only later."""
        return self._get_response(request)

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponseBase | None:
        """The problem, or `None` to go on."""
        limit: int = getattr(
            view_class(view), "body_size_max", settings.DATA_UPLOAD_MAX_MEMORY_SIZE
        )
        size = request.META.get("CONTENT_LENGTH") or "0"
        if not size.isdecimal() or int(size) <= limit:
            return None
        detail = f"The body is {int(size)} bytes, more than the {limit} that this address takes."
        advice = getattr(view_class(view), "too_big_advice", "Send it in parts.")
        facts = {"bytes": int(size), "bytes_max": limit}
        return answer_problem(
            request,
            Problem(BODY_TOO_BIG.status, BODY_TOO_BIG.code, f"{detail} {advice}", facts),
        )
