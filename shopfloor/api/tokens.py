"""Doors of the tokens of programs: one's own, and for owners everybody's."""

from __future__ import annotations

from datetime import timedelta
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from shopfloor import operations, selectors
from shopfloor.days import shop_day
from shopfloor.doors import ANYONE, OWNERS, Door, ListDoor
from shopfloor.fields import AtField, DayField
from shopfloor.filters import OwnTokenFilter, TokenFilter
from shopfloor.tokens import DAYS


class TokenSerializer(serializers.Serializer[Any]):
    """A token without its secret."""

    id = serializers.IntegerField()
    username = serializers.CharField()
    name = serializers.CharField()
    hint = serializers.CharField(help_text="The token's last four characters.")
    created_at = AtField()
    made_by = serializers.CharField(allow_null=True)
    ends_on = DayField(allow_null=True, help_text="The last day on which it works.")
    last_used_on = DayField(allow_null=True, help_text="The latest day it was used.")
    revoked_at = AtField(allow_null=True)


class IssuedTokenSerializer(TokenSerializer):
    """A new token."""

    token = serializers.CharField(
        allow_null=True, help_text="Shown once; null when the same request is sent again."
    )


class NewOwnTokenSerializer(serializers.Serializer[Any]):
    """What the program is."""

    name = serializers.CharField(max_length=80)
    ends_on = DayField(
        required=False, help_text=f"The last day on which it works; left out, {DAYS} days on."
    )


class NewTokenSerializer(NewOwnTokenSerializer):
    """Whom the program comes in as, and what it is."""

    username = serializers.CharField(max_length=40)


def token_json(row: selectors.TokenRow) -> dict[str, Any]:
    """A token as the API answers one."""
    return dict(TokenSerializer(row).data)


class TokenList(ListDoor):
    """Tokens listed, and made."""

    ordering_fields = ("created_at",)
    ordering = ("-created_at",)

    def rows(self, page: Any) -> list[dict[str, Any]]:
        """With the people's names, already loaded."""
        return [token_json(selectors.token_row(token)) for token in page]

    def issue(self, request: Request, username: str) -> Response:
        """Make one. The answer that is kept for a repeated request lacks the secret."""
        body, now = self.read(), timezone.now()
        shown: list[str] = []

        def render(issued: operations.IssuedToken) -> dict[str, Any]:
            shown[:] = [issued.text]
            return token_json(issued.row)

        answer = self.once(
            request,
            operations.issue_token,
            render,
            username=username,
            name=body["name"],
            ends_on=body.get("ends_on") or shop_day(now) + timedelta(days=DAYS),
            by=self.person,
            at=now,
        )
        answer.data = {**answer.data, "token": shown[0] if shown else None}
        return answer


class TokensDoor(TokenList):
    """Tokens of everybody's programs."""

    roles: ClassVar = {"GET": OWNERS, "POST": OWNERS}
    takes: ClassVar = {"POST": NewTokenSerializer}
    gives: ClassVar = {"GET": TokenSerializer, "POST": IssuedTokenSerializer}
    filterset_class = TokenFilter

    def get_queryset(self) -> QuerySet[Any]:
        """Every token."""
        return selectors.tokens()

    def post(self, request: Request) -> Response:
        """Make one for a person."""
        return self.issue(request, self.read()["username"])


class MyTokensDoor(TokenList):
    """Tokens of one's own programs."""

    roles: ClassVar = {"GET": ANYONE, "POST": ANYONE}
    takes: ClassVar = {"POST": NewOwnTokenSerializer}
    gives: ClassVar = {"GET": TokenSerializer, "POST": IssuedTokenSerializer}
    filterset_class = OwnTokenFilter

    def get_queryset(self) -> QuerySet[Any]:
        """One's own; while the API is described there is nobody."""
        if getattr(self, "swagger_fake_view", False):
            return selectors.tokens()
        return selectors.tokens_of(self.person)

    def post(self, request: Request) -> Response:
        """Make one for oneself."""
        return self.issue(request, self.person.username)


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


class MyTokenRevokeDoor(Door):
    """The end of a token of one's own."""

    roles: ClassVar = {"POST": ANYONE}
    gives: ClassVar = {"POST": (200, TokenSerializer)}

    def post(self, request: Request, token_id: int) -> Response:
        """Revoke it."""
        return self.once(
            request,
            operations.revoke_own_token,
            token_json,
            token_id=token_id,
            by=self.person,
            at=timezone.now(),
        )
