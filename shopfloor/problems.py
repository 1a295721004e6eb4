"""Answers made of refusals and failures: problem+json (RFC 9457) under `/api/`, else a page.

Nothing else makes an answer of an exception. What is not known here is a fault of ours: a 500
with a number to quote.
"""

from __future__ import annotations

import logging
import re
import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.conf import settings
from django.core.exceptions import (
    BadRequest,
    PermissionDenied,
    RequestDataTooBig,
    SuspiciousOperation,
)
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string
from rest_framework import exceptions as drf

from shopfloor.days import shop_moment
from shopfloor.errors import ShopError
from shopfloor.request_log import present_request_id
from shopfloor.slips import in_house_words
from shopfloor.trouble import AWAY, TROUBLES, Trouble, trouble_of
from shopfloor.units import UNITS

API_PREFIX = "/api/"
PROBLEM_TYPE = "application/problem+json"
PLACE_LENGTH = 80
"""Characters of the name of a field that are repeated in a sentence."""
RETRY_AFTER_SECONDS = 5
SERVER_FAULT = 500
MORE_IS_WRONG = " More is wrong: the facts name all of it."
_MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d")

logger = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Problem:
    """One refusal or failure, before it is JSON or a page.

    Attributes:
        status: HTTP status.
        code: Stable word for programs.
        detail: What is wrong and what to do.
        facts: JSON-ready values behind the detail.
        headers: HTTP headers the answer needs.
    """

    status: int
    code: str
    detail: str
    facts: Mapping[str, object] = field(default_factory=dict)
    headers: Mapping[str, str] = field(default_factory=dict)

    @property
    def title(self) -> str:
        """The code as words: the same for every problem of that code."""
        return self.code.replace("_", " ").capitalize()

    @property
    def lines(self) -> list[tuple[str, str]]:
        """The facts as label and text, for a page; of fields only what the detail leaves out."""
        told = self.detail if "fields" in self.facts else ""
        return [(label, text) for label, text in _lines(self.facts, ()) if text not in told]

    def members(self, instance: str) -> dict[str, object]:
        """The members of the RFC 9457 object; `code`, `facts` and `request_id` are ours."""
        return {
            "type": f"/problems/{self.code}",
            "title": self.title,
            "status": self.status,
            "detail": self.detail,
            "instance": instance,
            "code": self.code,
            "facts": dict(self.facts),
            "request_id": present_request_id(),
        }


def _lines(value: Any, path: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    if isinstance(value, Mapping) and not (path and _is_amount(value)):
        for name, inner in value.items():
            if str(name).endswith("_base"):  # for programs; what it is for people, the detail says
                continue
            # `fields` only says that fields follow.
            yield from _lines(inner, path if name == "fields" else (*path, str(name)))
    elif value is not None:
        yield " ".join(path).replace("_", " "), _text(value)


def _is_amount(value: Mapping[str, Any]) -> bool:
    """Whether it is one; what is wrong with an amount and its unit has the same names."""
    return value.keys() == {"amount", "unit"} and str(value["unit"]) in UNITS


def _text(value: Any) -> str:
    """A fact as people read it: an amount with its unit, a moment in the shop's zone."""
    if isinstance(value, Mapping):
        if _is_amount(value):
            return f"{value['amount']} {UNITS[value['unit']].label}"
        return ", ".join(f"{name.replace('_', ' ')} {_text(each)}" for name, each in value.items())
    if isinstance(value, list | tuple):
        return ("; " if any(isinstance(each, Mapping) for each in value) else ", ").join(
            map(_text, value)
        )
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = str(value)
    return shop_moment(text) if _MOMENT.match(text) else text


NOT_FOUND = Problem(404, "not_found", "There is nothing at this address.")
NOT_ALLOWED = Problem(
    403, "not_allowed", "Your role may not do this. Ask the owner or a lead to do it."
)
NOT_SIGNED_IN = Problem(401, "not_signed_in", "Sign in, or send `Authorization: Token ...`.")
CSRF_FAILED = Problem(
    403,
    "csrf_failed",
    "The page is too old or came from elsewhere. Load it again and send it again.",
)
BAD_REQUEST = Problem(400, "bad_request", "The request cannot be read.")
BODY_TOO_BIG = Problem(413, "body_too_big", "The body is too big. Send it in parts.")
MALFORMED_BODY = Problem(
    400, "malformed_body", "The body is not what its Content-Type says; the detail says where."
)
UNSUPPORTED_MEDIA_TYPE = Problem(
    415, "unsupported_media_type", "This address does not take a body of that Content-Type."
)
NOT_ACCEPTABLE = Problem(
    406, "not_acceptable", "This address does not answer in the format that was asked for."
)
TOKEN_REFUSED = Problem(401, "token_refused", "The token lets nobody in. Ask the owner for one.")
METHOD_NOT_ALLOWED = Problem(405, "method_not_allowed", "This address does not have that method.")
TOO_MANY_REQUESTS = Problem(429, "too_many_requests", "Too many requests. Wait, then try again.")
TOO_MANY_SIGN_INS = Problem(
    429, "too_many_sign_ins", "Too many wrong passwords. Wait, or ask the owner."
)
BROKEN = Problem(
    500, "broken", "Something broke on our side. Tell whoever looks after the program."
)


def _database_problem(trouble: Trouble) -> Problem:
    headers = {"Retry-After": str(RETRY_AFTER_SECONDS)} if trouble.is_passing else {}
    return Problem(trouble.status, trouble.code, trouble.detail, headers=headers)


DATABASE_AWAY = _database_problem(AWAY)
FRAME_PROBLEMS = (
    BAD_REQUEST,
    MALFORMED_BODY,
    NOT_SIGNED_IN,
    TOKEN_REFUSED,
    CSRF_FAILED,
    METHOD_NOT_ALLOWED,
    NOT_ACCEPTABLE,
    BODY_TOO_BIG,
    UNSUPPORTED_MEDIA_TYPE,
    TOO_MANY_REQUESTS,
    TOO_MANY_SIGN_INS,
    BROKEN,
    *map(_database_problem, TROUBLES),
)
"""What any address may answer, beside the refusals of the rooms (`ShopError`)."""


def problem_of(exc: BaseException) -> Problem | None:
    """What an exception says to a person; `None` when it is a fault of ours."""
    if isinstance(exc, ShopError):
        return Problem(exc.status, exc.code, exc.detail, exc.facts)
    if isinstance(exc, drf.APIException):
        return _drf_problem(exc)
    if trouble := trouble_of(exc):
        return _database_problem(trouble)
    for kind, problem in _PLAIN:
        if isinstance(exc, kind):
            return problem
    return None


_PLAIN: tuple[tuple[type[BaseException], Problem], ...] = (
    (Http404, NOT_FOUND),
    (PermissionDenied, NOT_ALLOWED),
    (RequestDataTooBig, BODY_TOO_BIG),
    (SuspiciousOperation, BAD_REQUEST),
    (BadRequest, BAD_REQUEST),
)


def _drf_problem(exc: drf.APIException) -> Problem:
    if isinstance(exc, drf.ValidationError):
        fields = field_errors(exc)
        return Problem(422, "invalid_input", slip_words(fields), {"fields": fields})
    headers = {}
    if challenge := getattr(exc, "auth_header", None):
        headers["WWW-Authenticate"] = challenge
    if (wait := getattr(exc, "wait", None)) is not None:
        headers["Retry-After"] = str(int(wait))
    if isinstance(exc, drf.PermissionDenied) and str(exc.detail).startswith("CSRF"):
        return CSRF_FAILED
    kind = _DRF_KINDS.get(type(exc))
    code = kind.code if kind else str(exc.default_code)
    detail = kind.detail if kind in _OUR_WORDS else str(exc.detail)
    return Problem(exc.status_code, code, detail, headers=headers)


_DRF_KINDS: dict[type[drf.APIException], Problem] = {
    drf.ParseError: MALFORMED_BODY,
    drf.UnsupportedMediaType: UNSUPPORTED_MEDIA_TYPE,
    drf.NotAcceptable: NOT_ACCEPTABLE,
    drf.NotAuthenticated: NOT_SIGNED_IN,
    drf.AuthenticationFailed: TOKEN_REFUSED,
    drf.PermissionDenied: NOT_ALLOWED,
    drf.NotFound: NOT_FOUND,
    drf.MethodNotAllowed: METHOD_NOT_ALLOWED,
    drf.Throttled: TOO_MANY_REQUESTS,
}
# Elsewhere DRF's own words, made for the case, say better what to do.
_OUR_WORDS = (NOT_SIGNED_IN, NOT_ALLOWED)


def field_errors(exc: drf.ValidationError) -> dict[str, Any]:
    """Messages by field, nested as the body was; those about the whole stand under `body`."""
    detail: Any = exc.detail
    if not isinstance(detail, dict):
        return {"body": _texts(detail)}
    return {
        ("body" if name == "non_field_errors" else str(name)): _texts(messages)
        for name, messages in detail.items()
    }


def slip_words(fields: Mapping[str, Any]) -> str:
    """The first of the messages by field as a sentence, and whether there are more."""
    slips = list(_leaves(fields))
    if not slips:
        return "Some values cannot be used; the facts name them."
    where, words = slips[0][0][:PLACE_LENGTH], slips[0][1]
    return f"{where}: {words}{MORE_IS_WRONG}" if len(slips) > 1 else f"{where}: {words}"


def _leaves(fields: Any, path: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(fields, Mapping):
        for name, inner in fields.items():
            yield from _leaves(inner, f"{path}.{name}" if path else str(name))
    elif isinstance(fields, list):
        for inner in fields:
            yield from _leaves(inner, path)
    else:
        yield path, str(fields)


def _texts(detail: Any) -> Any:
    if isinstance(detail, dict):
        return {str(name): _texts(inner) for name, inner in detail.items()}
    if isinstance(detail, list | tuple):
        return [_texts(inner) for inner in detail]
    return in_house_words(str(detail))


def _noted_problem(request: HttpRequest, exc: BaseException) -> Problem | None:
    """What an exception says to a person; trouble with the database stands in the log as well."""
    if (trouble := trouble_of(exc)) is not None:
        words = str(exc.__cause__ or exc).partition("\n")[0]
        logger.error("%s at %s: %s", trouble.code, request.path, words)
    return problem_of(exc)


def api_problem(exc: Exception, context: Mapping[str, Any]) -> HttpResponse | None:
    """DRF's `EXCEPTION_HANDLER`. `None` lets Django log the fault and call `handler500`."""
    problem = _noted_problem(context["request"], exc)
    return None if problem is None else problem_json(context["request"], problem)


def problem_json(request: HttpRequest, problem: Problem) -> HttpResponse:
    """The problem for a program; the body does not depend on what the caller accepts."""
    return JsonResponse(
        problem.members(request.path),
        status=problem.status,
        content_type=PROBLEM_TYPE,
        headers=dict(problem.headers),
    )


def page_problem(request: HttpRequest, problem: Problem) -> HttpResponse:
    """The same facts as a page, or for htmx as the fragment that goes to the frame's `#problem`."""
    is_htmx = request.headers.get("HX-Request") == "true"
    template = "shopfloor/_problem.html" if is_htmx else "shopfloor/problem.html"
    context = {
        "problem": problem,
        "shop_name": settings.SHOP_NAME,
        "shop_is_demo": settings.SHOP_IS_DEMO,
    }
    # With the database away or ourselves broken, the frame must not ask who is signed in.
    body = render_to_string(template, context, None if problem.status >= SERVER_FAULT else request)
    headers = dict(problem.headers)
    if is_htmx:
        headers |= {"HX-Retarget": "#problem", "HX-Reswap": "innerHTML"}
    return HttpResponse(body, status=problem.status, headers=headers)


def answer_problem(request: HttpRequest, problem: Problem) -> HttpResponse:
    """JSON under `/api/`, else a page."""
    is_api = request.path.startswith(API_PREFIX)
    return (problem_json if is_api else page_problem)(request, problem)


class PageProblemMiddleware:
    """Answers what a page's view raises, and refuses an address no database could take."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let all but a NUL in the address through: PostgreSQL cannot take one in a text."""
        if "\x00" in request.path:
            return answer_problem(request, BAD_REQUEST)
        return self._get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """The problem, or `None` to let Django log the fault and call `handler500`."""
        problem = _noted_problem(request, exception)
        return None if problem is None else answer_problem(request, problem)


def handler400(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Django's answer to a request it cannot read."""
    return answer_problem(request, problem_of(exception) or BAD_REQUEST)


def handler403(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Django's answer to a refusal."""
    return answer_problem(request, NOT_ALLOWED)


def handler404(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Django's answer to an address that leads nowhere."""
    return answer_problem(request, NOT_FOUND)


def handler500(request: HttpRequest) -> HttpResponse:
    """The answer to a fault of ours: a number to quote, and nothing of the inside."""
    fault = sys.exc_info()[1]
    if fault is not None and (problem := _noted_problem(request, fault)) is not None:
        return answer_problem(request, problem)
    number = present_request_id()
    logger.error("Fault %s at %s", number, request.path, exc_info=fault)
    detail = f"{BROKEN.detail} Its number in the log: {number}."
    return answer_problem(request, Problem(BROKEN.status, BROKEN.code, detail, {"number": number}))


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Django's `CSRF_FAILURE_VIEW`."""
    return answer_problem(request, CSRF_FAILED)
