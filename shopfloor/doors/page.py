"""The door of a page: the same roles and the same reading as the API's, for people in a browser."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, ClassVar, TypeVar
from uuid import uuid4

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.views.generic import View

from shopfloor.doors.body import validated
from shopfloor.doors.door import Shape
from shopfloor.doors.once import KEY_FIELD, request_token
from shopfloor.errors import NotAllowedError
from shopfloor.models import User
from shopfloor.operation import Answer, Operation
from shopfloor.permissions import Roles, is_let_in

R = TypeVar("R")


class PageDoor(View):
    """Lets in whom `roles` name, by method; who is not signed in goes to the sign-in page first.

    Attributes:
        roles: Who may use which method ("GET", "POST"); what is not declared is for nobody.
    """

    roles: ClassVar[Roles] = {}
    http_method_names = ["get", "post", "head"]

    @property
    def person(self) -> User:
        """Who is signed in."""
        assert isinstance(self.request.user, User)
        return self.request.user

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Check who comes in, then call the method."""
        if not request.user.is_authenticated:
            return _sign_in_first(request, has_page=hasattr(self, "get"))
        method = request.method or ""
        if not hasattr(self, method.lower()):
            return self.http_method_not_allowed(request)
        if not is_let_in(role=request.user.role, method=method, roles=self.roles):
            raise NotAllowedError(
                "Your role may not do this. Ask the owner or a lead to do it.",
                role=request.user.role,
            )
        return super().dispatch(request, *args, **kwargs)

    def page(self, template: str, context: Mapping[str, Any], *, status: int = 200) -> HttpResponse:
        """A template in the frame, or a fragment of it."""
        return render(self.request, template, {**frame_context(), **context}, status=status)

    def read(self, shape: Shape) -> Any:
        """The form, validated.

        Raises:
            InvalidInputError: `facts["fields"]` has the messages by field.
        """
        return validated(shape, self.request.POST)

    def once(
        self, operation: Operation[..., R], render: Callable[[R], Any], **kwargs: Any
    ) -> Answer:
        """Carry out an operation once for the form's hidden `idempotency_key`.

        The frame gives each form its own: `{{ new_request_key }}`.
        """
        token = request_token(
            user_id=self.person.pk,
            key=self.request.POST.get(KEY_FIELD),
            method=self.request.method or "",
            path=self.request.get_full_path(),
            body=self.request.POST,
        )
        return operation.answering(token, render)(**kwargs)


def frame_context() -> dict[str, Any]:
    """What the frame shows on every page. `new_request_key` is a new one wherever it stands."""
    return {
        "shop_name": settings.SHOP_NAME,
        "shop_is_demo": settings.SHOP_IS_DEMO,
        "new_request_key": lambda: uuid4().hex,
    }


def _sign_in_first(request: HttpRequest, *, has_page: bool) -> HttpResponse:
    """To the sign-in page and back: to the form, if there is one, that keeps what was typed."""
    is_htmx = request.headers.get("HX-Request") == "true"
    back = request.get_full_path() if has_page and not is_htmx else "/"
    answer = redirect_to_login(back)
    if is_htmx:
        return HttpResponse(status=401, headers={"HX-Redirect": answer.url})
    return answer
