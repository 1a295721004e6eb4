"""Pages of the ground floor: sign-in and sign-out, oneself, what a problem means."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import timedelta
from math import ceil
from types import MappingProxyType
from typing import Any, ClassVar, Final

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.forms import AuthenticationForm, UsernameField
from django.contrib.auth.views import LoginView, LogoutView
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.http.response import HttpResponseBase
from django.urls import path
from django.utils import timezone
from django.utils.decorators import method_decorator
from drf_spectacular.views import SpectacularSwaggerSplitView
from rest_framework.exceptions import Throttled

from shopfloor import operations, selectors
from shopfloor.doors import ANYONE, DeclaredRoles, PageDoor
from shopfloor.doors.page import frame_context
from shopfloor.errors import PasswordWrongError, ShopError
from shopfloor.glossary import glossary
from shopfloor.passwords import OwnPasswordSerializer, PasswordTries
from shopfloor.problems import FRAME_PROBLEMS, TOO_MANY_SIGN_INS, Problem, page_problem
from shopfloor.proxy import client_address
from shopfloor.screens import ask, has_search
from shopfloor.screens.cells import REFERENCES
from shopfloor.sessions import begin_session, keep_own_session

MINUTE = timedelta(minutes=1)
USERNAME_LENGTH_MAX = 40
CHOICES_SHOWN = 30
_WITH_ACTIVE = ("colorways", "equipment", "items", "models", "places", "stages", "suppliers")
OFFERED: Final[Mapping[str, Mapping[str, object]]] = MappingProxyType(
    {"lots": {"is_on_hand": "true"}, **{name: {"is_active": "true"} for name in _WITH_ACTIVE}}
)
"""Of these lists only what is here or in use; the rest can be typed."""


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

    open_to_all: ClassVar = ("GET", "POST")
    template_name = "shopfloor/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The form in the frame; an empty shop says how the first person is made."""
        context = super().get_context_data(**kwargs)
        return {**context, **frame_context(), "has_people": selectors.has_people()}

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        """Let in, and keep that it was so."""
        answer = super().form_valid(form)
        now = timezone.now()
        begin_session(self.request, now)
        operations.note_sign_in(
            person=form.get_user(), address=client_address(self.request), at=now
        )
        return answer

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        """Keep what was counted; what came while locked out never is."""
        if getattr(self.request, "axes_failures_since_start", None) is not None:
            operations.note_failed_sign_in(
                username=form.cleaned_data["username"],
                address=client_address(self.request),
                at=timezone.now(),
                has_locked_out=getattr(self.request, "axes_locked_out", False),
            )
        return super().form_invalid(form)


class SignOutPage(LogoutView):
    """Sign out: a POST, so that no picture or link can do it."""

    open_to_all: ClassVar = ("POST",)

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """End the session, and keep that it was so."""
        if request.user.is_authenticated:
            operations.note_sign_out(
                person=request.user, address=client_address(request), at=timezone.now()
            )
        return super().post(request, *args, **kwargs)


class MePage(PageDoor):
    """Oneself: who one is here, one's password, sign-ins and tokens."""

    roles: ClassVar = {"GET": ANYONE}

    def get(self, request: HttpRequest) -> HttpResponse:
        """Show it."""
        return own_page(self)


def own_page(door: PageDoor, refused: ShopError | None = None) -> HttpResponse:
    """Oneself; why the new password was refused, at its field."""
    wrong: dict[str, object] = {}
    if refused is not None:
        fields = refused.facts.get("fields")
        wrong = {"password": [refused.detail]}
        if isinstance(refused, PasswordWrongError):
            wrong = {"present": [refused.detail]}
        elif isinstance(fields, Mapping):
            wrong = dict(fields)
    tokens = [selectors.token_row(token) for token in selectors.tokens_of(door.person)]
    return door.page(
        "shopfloor/me.html",
        {"tokens": tokens, "wrong": wrong},
        status=200 if refused is None else refused.status,
    )


class MyPasswordPage(PageDoor):
    """One's own password."""

    roles: ClassVar = {"POST": ANYONE}

    def post(self, request: HttpRequest) -> HttpResponse:
        """Change it. Without a request key: its fingerprint would be a fast hash of a password."""
        tries = PasswordTries()
        if not tries.allow_request(request, self):  # type: ignore[arg-type]
            raise Throttled(tries.wait())
        try:
            body = self.read(OwnPasswordSerializer)
            operations.change_own_password(
                present=body["present"],
                password=body["password"],
                by=self.person,
                at=timezone.now(),
            )
        except ShopError as refused:
            return own_page(self, refused)
        keep_own_session(request, self.person)
        messages.success(request, "Your password is changed. Elsewhere you are signed out.")
        return HttpResponseRedirect("/me/")


class SignOutEverywherePage(PageDoor):
    """The end of one's sign-ins, wherever they are."""

    roles: ClassVar = {"POST": ANYONE}

    def post(self, request: HttpRequest) -> HttpResponse:
        """End them, this one too."""
        operations.end_sessions(username=self.person.username, by=self.person, at=timezone.now())
        return HttpResponseRedirect(settings.LOGIN_URL)


@method_decorator(login_required, name="dispatch")
class DescriptionPage(SpectacularSwaggerSplitView):
    """The API's description, to be read."""

    roles: ClassVar = {"GET": ANYONE}
    permission_classes = [DeclaredRoles]
    http_method_names = ["get", "head"]


def locked_out(
    request: HttpRequest, response: HttpResponseBase | None, credentials: Any
) -> HttpResponse:
    """What too many wrong passwords get: how long to wait."""
    wait: timedelta = settings.AXES_COOLOFF_TIME
    minutes = ceil(wait / MINUTE)
    return page_problem(
        request,
        Problem(
            TOO_MANY_SIGN_INS.status,
            TOO_MANY_SIGN_INS.code,
            f"Too many wrong passwords. Wait {minutes} minutes, or ask the owner.",
            {"wait_minutes": minutes},
            {"Retry-After": str(int(wait.total_seconds()))},
        ),
    )


class ChoicesPage(PageDoor):
    """Codes of a list that fit what is being typed, offered below its field."""

    roles: ClassVar = {"GET": ANYONE}

    def get(self, request: HttpRequest, folder: str) -> HttpResponse:
        """The first that fit, of those that can be meant."""
        if folder not in REFERENCES.values():
            raise Http404
        asked = {"page_size": CHOICES_SHOWN, **OFFERED.get(folder, {})}
        if has_search(f"{folder}/"):  # a list without is a short one
            asked["search"] = request.GET.get("search", "")
        listed = ask(request, f"{folder}/", **asked)
        things = [
            (thing["code"], thing.get("name") or thing.get("item_name", ""))
            for thing in listed["results"]
        ]
        return self.page("shopfloor/_choices.html", {"things": things})


class WordsPage(PageDoor):
    """What the words mean that every page uses."""

    roles: ClassVar = {"GET": ANYONE}

    def get(self, request: HttpRequest) -> HttpResponse:
        """Show them."""
        return self.page("shopfloor/words.html", {"words": glossary()})


class ProblemPage(PageDoor):
    """What a problem of a code is: the address in its `type`."""

    roles: ClassVar = {"GET": ANYONE}

    def get(self, request: HttpRequest, code: str) -> HttpResponse:
        """Show it."""
        problem = next((problem for problem in _every_problem() if problem.code == code), None)
        if problem is None:
            raise Http404
        return self.page("shopfloor/problem_kind.html", {"problem": problem})


def _every_problem() -> Iterator[Problem]:
    yield from FRAME_PROBLEMS
    for kind in _kinds(ShopError):
        yield Problem(kind.status, kind.code, (kind.__doc__ or "").partition("\n")[0])


def _kinds(kind: type[ShopError]) -> Iterator[type[ShopError]]:
    for inner in kind.__subclasses__():
        yield inner
        yield from _kinds(inner)


urlpatterns = [
    path("sign-in/", SignInPage.as_view(), name="sign-in"),
    path("sign-out/", SignOutPage.as_view(), name="sign-out"),
    path("me/", MePage.as_view(), name="me"),
    path("me/password/", MyPasswordPage.as_view()),
    path("me/sign-out-everywhere/", SignOutEverywherePage.as_view()),
    path("choices/<str:folder>/", ChoicesPage.as_view()),
    path("words/", WordsPage.as_view()),
    path("problems/<str:code>", ProblemPage.as_view(), name="problem"),
]
