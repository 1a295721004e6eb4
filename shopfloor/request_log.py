"""One line in the log a request: its number, who, what, how it ended, how long it took.

Never a body, a query, a token or a person's name: people are numbers here, because a log cannot be
blanked. The number stands in the answer's `X-Request-ID`, in every problem, and in every other
line that is written while the request is served.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable
from contextvars import ContextVar
from datetime import UTC, datetime
from time import perf_counter
from urllib.parse import quote

from django.http import HttpRequest
from django.http.response import HttpResponseBase

from shopfloor.proxy import REQUEST_ID_HEADER, request_id

logger = logging.getLogger(__name__)

_present: ContextVar[str] = ContextVar("request_id", default="-")
FACTS = ("user", "method", "path", "status", "ms")


def present_request_id() -> str:
    """The number of the request being served; `-` outside of one."""
    return _present.get()


class RequestLogMiddleware:
    """Numbers a request and writes its line."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Serve it between the two."""
        started = perf_counter()
        number = request_id(request)
        kept = _present.set(number)
        try:
            answer = self._get_response(request)
            answer[REQUEST_ID_HEADER] = number
            facts = {
                "user": _user_number(request),
                "method": request.method,
                "path": _path_without_names(request),
                "status": answer.status_code,
                "ms": round((perf_counter() - started) * 1000),
            }
            logger.info(" ".join(f"{name}={value}" for name, value in facts.items()), extra=facts)
        finally:
            _present.reset(kept)
        return answer


def _user_number(request: HttpRequest) -> int | None:
    """Who was recognized, without asking the database for it now."""
    user = getattr(request, "_cached_user", None) or vars(request).get("user")
    number: int | None = vars(user).get("id") if hasattr(user, "__dict__") else None
    return number


def _path_without_names(request: HttpRequest) -> str:
    """The address; a person's name in it is left out, and what is no plain text is escaped."""
    path = request.path
    if request.resolver_match and (name := request.resolver_match.kwargs.get("username")):
        path = path.replace(f"/{name}/", "/{username}/")
    return quote(path, safe="/{}:@!$&'()*+,;=~")


class NumberFilter(logging.Filter):
    """Gives every line the number of the request it was written for."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Let all through."""
        record.request_id = present_request_id()
        return True


class JsonFormatter(logging.Formatter):
    """A line as one JSON object, for a program that gathers logs."""

    def format(self, record: logging.LogRecord) -> str:
        """Time, level, logger, message, number, and the facts of a request's line."""
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "logger": record.name,
            "message": record.getMessage(),
            "request_id": getattr(record, "request_id", "-"),
        }
        if record.name == __name__:
            line |= {name: getattr(record, name) for name in FACTS}
        if record.exc_info:
            line["fault"] = self.formatException(record.exc_info)
        return json.dumps(line, default=str)


class PlainFormatter(logging.Formatter):
    """A line to be read; what a visitor sent cannot begin another one."""

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 - Python's name
        """The line, with line ends written out."""
        line = super().formatMessage(record)
        return line.replace("\r", "\\r").replace("\n", "\\n")
