"""Pages of the ground floor: sign-in and sign-out, what a problem means."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from math import ceil
from typing import Any

from django.conf import settings
from django.contrib.auth.forms import AuthenticationForm, UsernameField
from django.contrib.auth.views import LoginView, LogoutView
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render

from shopfloor import selectors
from shopfloor.doors.page import frame_context
from shopfloor.errors import ShopError
from shopfloor.problems import Problem, page_problem

MINUTE = timedelta(minutes=1)
USERNAME_LENGTH_MAX = 40


class SignInForm(AuthenticationForm):
    """Name and password, with a message that says what to do."""

    # Django only tells the browser; the log of failed sign-ins takes no name of any length.
    username = UsernameField(max_length=USERNAME_LENGTH_MAX)

    error_messages = {
        "invalid_login": "That name and password do not go together. "
        "Ask the owner for a new password if you forgot yours.",
        "inactive": "You may no longer sign in. Ask the owner.",
    }


class SignInPage(LoginView):
    """Sign in, then go where one wanted to go, if that is ours."""

    template_name = "shopfloor/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The form in the frame; an empty shop says how the first person is made."""
        context = super().get_context_data(**kwargs)
        return {**context, **frame_context(), "has_people": selectors.has_people()}


class SignOutPage(LogoutView):
    """Sign out: a POST, so that no picture or link can do it."""


def locked_out(
    request: HttpRequest, response: HttpResponseBase | None, credentials: Any
) -> HttpResponse:
    """What too many wrong passwords get: how long to wait."""
    wait: timedelta = settings.AXES_COOLOFF_TIME
    minutes = ceil(wait / MINUTE)
    return page_problem(
        request,
        Problem(
            429,
            "too_many_sign_ins",
            f"Too many wrong passwords. Wait {minutes} minutes, or ask the owner.",
            {"wait_minutes": minutes},
            {"Retry-After": str(int(wait.total_seconds()))},
        ),
    )


def problem_page(request: HttpRequest, code: str) -> HttpResponse:
    """What a problem of that code is: the address in its `type`."""
    kind = next((kind for kind in _kinds(ShopError) if kind.code == code), None)
    if kind is None:
        raise Http404
    problem = Problem(kind.status, kind.code, (kind.__doc__ or "").partition("\n")[0])
    return render(request, "shopfloor/problem_kind.html", {**frame_context(), "problem": problem})


def _kinds(kind: type[ShopError]) -> Iterator[type[ShopError]]:
    for inner in kind.__subclasses__():
        yield inner
        yield from _kinds(inner)
