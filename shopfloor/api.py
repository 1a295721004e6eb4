"""Doors of the ground floor: what there is, who I am, people, tokens, and the health check."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.urls import URLPattern, URLResolver, get_resolver
from django.urls.resolvers import RoutePattern
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from shopfloor import operations, selectors
from shopfloor.doors import ANYONE, OWNERS, Door, ListDoor
from shopfloor.fields import AtField
from shopfloor.filters import PersonFilter, TokenFilter
from shopfloor.permissions import is_let_in
from shopfloor.problems import DATABASE_AWAY, problem_json
from shopfloor.roles import Role

API_ROOT = "api/v1/"
PASSWORD_LENGTH_MAX = 200  # hashing a novel would keep the server busy


@require_safe
@never_cache
def health(request: HttpRequest) -> HttpResponse:
    """Whether we and the database answer. Needs no sign-in, so it says nothing else."""
    if selectors.is_database_up():
        return JsonResponse({"status": "ok"})
    return problem_json(request, DATABASE_AWAY)


class AddressSerializer(serializers.Serializer[Any]):
    """An address and the methods that the person asking may use there."""

    address = serializers.CharField()
    methods = serializers.ListField(child=serializers.CharField())


class RootSerializer(serializers.Serializer[Any]):
    """What there is."""

    addresses = AddressSerializer(many=True)


class RootDoor(Door):
    """Every address that the person asking may use."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": RootSerializer}

    def get(self, request: Request) -> Response:
        """List them in order."""
        found = (
            (address, _methods(view_class, self.person.role))
            for address, view_class in _addresses(get_resolver().url_patterns)
            if address.startswith(f"/{API_ROOT}")
        )
        mine = sorted((address, methods) for address, methods in found if methods)
        return Response({"addresses": [{"address": at, "methods": use} for at, use in mine]})


class PersonSerializer(serializers.Serializer[Any]):
    """A person."""

    username = serializers.CharField()
    display_name = serializers.CharField()
    role = serializers.ChoiceField(choices=Role.choices)
    is_active = serializers.BooleanField()
    created_at = AtField()
    blanked_at = AtField(allow_null=True)


class NewPersonSerializer(serializers.Serializer[Any]):
    """Who comes to work here. Without a password only tokens let them in."""

    username = serializers.CharField(max_length=40)
    display_name = serializers.CharField(max_length=80)
    role = serializers.ChoiceField(choices=Role.choices)
    password = serializers.CharField(
        max_length=PASSWORD_LENGTH_MAX, trim_whitespace=False, allow_null=True, default=None
    )


class RoleSerializer(serializers.Serializer[Any]):
    """The new role."""

    role = serializers.ChoiceField(choices=Role.choices)


class ActiveSerializer(serializers.Serializer[Any]):
    """Whether the person may sign in."""

    is_active = serializers.BooleanField()


class PasswordSerializer(serializers.Serializer[Any]):
    """The new password."""

    password = serializers.CharField(max_length=PASSWORD_LENGTH_MAX, trim_whitespace=False)


class OwnPasswordSerializer(PasswordSerializer):
    """The present and the new password."""

    present = serializers.CharField(max_length=PASSWORD_LENGTH_MAX, trim_whitespace=False)


class TokenSerializer(serializers.Serializer[Any]):
    """A token without its secret."""

    id = serializers.IntegerField()
    username = serializers.CharField()
    name = serializers.CharField()
    hint = serializers.CharField(help_text="The token's last four characters.")
    created_at = AtField()
    revoked_at = AtField(allow_null=True)


class IssuedTokenSerializer(TokenSerializer):
    """A new token."""

    token = serializers.CharField(
        allow_null=True, help_text="Shown once; null when the same request is sent again."
    )


class NewTokenSerializer(serializers.Serializer[Any]):
    """Whom the program comes in as, and what it is."""

    username = serializers.CharField(max_length=40)
    name = serializers.CharField(max_length=80)


def person_json(row: selectors.PersonRow) -> dict[str, Any]:
    """A person as the API answers one."""
    return dict(PersonSerializer(row).data)


def token_json(row: selectors.TokenRow) -> dict[str, Any]:
    """A token as the API answers one."""
    return dict(TokenSerializer(row).data)


class MeDoor(Door):
    """Who is signed in."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": PersonSerializer}

    def get(self, request: Request) -> Response:
        """Oneself."""
        return Response(person_json(selectors.person_row(self.person)))


class MyPasswordDoor(Door):
    """One's own password."""

    roles: ClassVar = {"POST": ANYONE}
    takes: ClassVar = {"POST": OwnPasswordSerializer}
    gives: ClassVar = {"POST": (200, PersonSerializer)}
    secret_fields = frozenset({"present", "password"})

    def post(self, request: Request) -> Response:
        """Change it; other sessions end."""
        body = self.read()
        return self.once(
            request,
            operations.change_own_password,
            person_json,
            present=body["present"],
            password=body["password"],
            by=self.person,
            at=timezone.now(),
        )


class PeopleDoor(ListDoor):
    """The people of the shop."""

    roles: ClassVar = {"GET": OWNERS, "POST": OWNERS}
    takes: ClassVar = {"POST": NewPersonSerializer}
    gives: ClassVar = {"GET": PersonSerializer, "POST": PersonSerializer}
    filterset_class = PersonFilter
    search_fields = ("username", "display_name")
    ordering_fields = ("username", "role", "created_at")
    ordering = ("username",)
    secret_fields = frozenset({"password"})

    def get_queryset(self) -> QuerySet[Any]:
        """Everybody."""
        return selectors.people()

    def post(self, request: Request) -> Response:
        """Enter a person."""
        return self.once(
            request,
            operations.create_person,
            person_json,
            **self.read(),
            by=self.person,
            at=timezone.now(),
        )


class PersonRoleDoor(Door):
    """A person's role."""

    roles: ClassVar = {"POST": OWNERS}
    takes: ClassVar = {"POST": RoleSerializer}
    gives: ClassVar = {"POST": (200, PersonSerializer)}

    def post(self, request: Request, username: str) -> Response:
        """Change it."""
        return self.once(
            request,
            operations.change_role,
            person_json,
            username=username,
            **self.read(),
            by=self.person,
            at=timezone.now(),
        )


class PersonActiveDoor(Door):
    """Whether a person may sign in."""

    roles: ClassVar = {"POST": OWNERS}
    takes: ClassVar = {"POST": ActiveSerializer}
    gives: ClassVar = {"POST": (200, PersonSerializer)}

    def post(self, request: Request, username: str) -> Response:
        """Let them, or no longer: sessions and tokens end at once."""
        return self.once(
            request,
            operations.let_sign_in,
            person_json,
            username=username,
            **self.read(),
            by=self.person,
            at=timezone.now(),
        )


class PersonPasswordDoor(Door):
    """A person's password, when they forgot it."""

    roles: ClassVar = {"POST": OWNERS}
    takes: ClassVar = {"POST": PasswordSerializer}
    gives: ClassVar = {"POST": (200, PersonSerializer)}
    secret_fields = frozenset({"password"})

    def post(self, request: Request, username: str) -> Response:
        """Give a new one."""
        return self.once(
            request,
            operations.set_password,
            person_json,
            username=username,
            **self.read(),
            by=self.person,
            at=timezone.now(),
        )


class PersonBlankDoor(Door):
    """A person's names in the shop's records."""

    roles: ClassVar = {"POST": OWNERS}
    gives: ClassVar = {"POST": (200, PersonSerializer)}

    def post(self, request: Request, username: str) -> Response:
        """Blank them, for good."""
        return self.once(
            request,
            operations.blank_name,
            person_json,
            username=username,
            by=self.person,
            at=timezone.now(),
        )


class TokensDoor(ListDoor):
    """Tokens of programs."""

    roles: ClassVar = {"GET": OWNERS, "POST": OWNERS}
    takes: ClassVar = {"POST": NewTokenSerializer}
    gives: ClassVar = {"GET": TokenSerializer, "POST": IssuedTokenSerializer}
    filterset_class = TokenFilter
    ordering_fields = ("created_at",)
    ordering = ("-created_at",)

    def get_queryset(self) -> QuerySet[Any]:
        """Every token."""
        return selectors.tokens()

    def rows(self, page: Any) -> list[dict[str, Any]]:
        """With the person's name, already loaded."""
        return [token_json(selectors.token_row(token)) for token in page]

    def post(self, request: Request) -> Response:
        """Make one. The answer that is kept for a repeated request lacks the secret."""
        shown: list[str] = []

        def render(issued: operations.IssuedToken) -> dict[str, Any]:
            shown[:] = [issued.text]
            return token_json(issued.row)

        answer = self.once(
            request,
            operations.issue_token,
            render,
            **self.read(),
            by=self.person,
            at=timezone.now(),
        )
        answer.data = {**answer.data, "token": shown[0] if shown else None}
        return answer


class TokenRevokeDoor(Door):
    """The end of a token."""

    roles: ClassVar = {"POST": OWNERS}
    gives: ClassVar = {"POST": (200, TokenSerializer)}

    def post(self, request: Request, token_id: int) -> Response:
        """Revoke it."""
        return self.once(
            request,
            operations.revoke_token,
            token_json,
            token_id=token_id,
            by=self.person,
            at=timezone.now(),
        )


def _addresses(
    patterns: list[URLPattern | URLResolver], before: str = "/"
) -> Iterator[tuple[str, Any]]:
    """Every address with its view; a part that varies is written `{code}`."""
    for entry in patterns:
        if not isinstance(entry.pattern, RoutePattern):
            continue
        address = before + re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", str(entry.pattern))
        if isinstance(entry, URLResolver):
            yield from _addresses(entry.url_patterns, address)
        else:
            yield address, getattr(entry.callback, "cls", None)


def _methods(view_class: Any, role: str) -> list[str]:
    if view_class is None:
        return []
    roles = getattr(view_class, "roles", None)
    if roles is None:
        return ["GET"]  # the description and its pages: anybody signed in
    return [method for method in roles if is_let_in(role=role, method=method, roles=roles)]
