"""How long a sign-in lasts: so long from the sign-in, and so long from the last request."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from datetime import datetime, timedelta

from django.conf import settings
from django.contrib.auth import SESSION_KEY, logout, update_session_auth_hash
from django.contrib.sessions.backends.base import UpdateError
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from rest_framework.request import Request

from shopfloor.models import User
from shopfloor.patience import hardly_waiting
from shopfloor.selectors import person_named

SIGNED_IN_AT = "signed_in_at"
SEEN_AT = "seen_at"
SEEN_STEPS = 12
"""A session is written so often in the time that it may lie idle, not at every request."""


class SessionLimitMiddleware:
    """Ends a session that is too old or lay idle too long, before anybody comes in by it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Look at requests that carry a session; a program with a token has none."""
        if settings.SESSION_COOKIE_NAME in request.COOKIES and SESSION_KEY in request.session:
            _end_or_go_on(request, timezone.now())
        return self._get_response(request)


def begin_session(request: HttpRequest, now: datetime) -> None:
    """From now on the session counts."""
    request.session[SIGNED_IN_AT] = request.session[SEEN_AT] = now.isoformat()


def _end_or_go_on(request: HttpRequest, now: datetime) -> None:
    session = request.session
    began = _moment(session.get(SIGNED_IN_AT)) or now
    seen = _moment(session.get(SEEN_AT)) or now
    idle: timedelta = settings.SESSION_IDLE
    if now - began > timedelta(seconds=settings.SESSION_COOKIE_AGE) or now - seen > idle:
        logout(request)
    elif SEEN_AT not in session or now - seen > idle / SEEN_STEPS:
        session.setdefault(SIGNED_IN_AT, now.isoformat())
        session[SEEN_AT] = now.isoformat()
        # A database that is busy with a writer is not a reason to refuse a reader.
        with contextlib.suppress(UpdateError), hardly_waiting():
            session.save()
        session.modified = False


def _moment(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)


def keep_own_session(request: HttpRequest | Request, person: User) -> None:
    """After a change of one's own password: of all sessions this one goes on, under a new key."""
    if request.session.get(SESSION_KEY) == str(person.pk):
        update_session_auth_hash(request, person_named(person.username))
