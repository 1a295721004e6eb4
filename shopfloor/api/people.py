"""Doors of the people of the shop, and of oneself."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from shopfloor import operations, selectors
from shopfloor.doors import ANYONE, OWNERS, Door, ListDoor
from shopfloor.fields import AtField
from shopfloor.filters import PersonFilter
from shopfloor.passwords import (
    PASSWORD_LENGTH_MAX,
    OwnPasswordSerializer,
    PasswordSerializer,
    PasswordTries,
)
from shopfloor.roles import Role
from shopfloor.sessions import keep_own_session


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


class NewPasswordSerializer(PasswordSerializer):
    """The new password, and whether the tokens end too."""

    end_tokens = serializers.BooleanField(
        default=False, help_text="Revoke the person's tokens as well."
    )


def person_json(row: selectors.PersonRow) -> dict[str, Any]:
    """A person as the API answers one."""
    return dict(PersonSerializer(row).data)


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
    throttle_classes = [PasswordTries]

    def post(self, request: Request) -> Response:
        """Change it; other sessions end."""
        body = self.read()
        answer = self.once(
            request,
            operations.change_own_password,
            person_json,
            present=body["present"],
            password=body["password"],
            by=self.person,
            at=timezone.now(),
        )
        keep_own_session(request, self.person)
        return answer


class MySessionsDoor(Door):
    """One's own sign-ins."""

    roles: ClassVar = {"POST": ANYONE}
    gives: ClassVar = {"POST": (200, PersonSerializer)}

    def post(self, request: Request) -> Response:
        """Sign out everywhere, here too. Tokens go on."""
        return self.once(
            request,
            operations.end_sessions,
            person_json,
            username=self.person.username,
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


class PersonDoor(Door):
    """One person."""

    roles: ClassVar = {"GET": OWNERS}
    gives: ClassVar = {"GET": PersonSerializer}

    def get(self, request: Request, username: str) -> Response:
        """The person."""
        return Response(person_json(selectors.person_row(selectors.person_named(username))))


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
    takes: ClassVar = {"POST": NewPasswordSerializer}
    gives: ClassVar = {"POST": (200, PersonSerializer)}
    secret_fields = frozenset({"password"})

    def post(self, request: Request, username: str) -> Response:
        """Give a new one; the person's sessions end, and if wanted their tokens."""
        body = self.read()
        return self.once(
            request,
            operations.set_password,
            person_json,
            username=username,
            password=body["password"],
            is_token_end_wanted=body["end_tokens"],
            by=self.person,
            at=timezone.now(),
        )


class PersonSessionsDoor(Door):
    """A person's sign-ins."""

    roles: ClassVar = {"POST": OWNERS}
    gives: ClassVar = {"POST": (200, PersonSerializer)}

    def post(self, request: Request, username: str) -> Response:
        """Sign them out everywhere. Tokens go on."""
        return self.once(
            request,
            operations.end_sessions,
            person_json,
            username=username,
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
