"""What the OpenAPI description says of a door, made of what the door declares."""

from __future__ import annotations

from inspect import getdoc
from typing import TYPE_CHECKING, Any, cast

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse
from rest_framework import serializers

from shopfloor.doors.once import KEY_HEADER, KEY_LENGTH_MAX
from shopfloor.doors.sheets import FORMAT, FORMATS, JSON
from shopfloor.problems import PROBLEM_TYPE
from shopfloor.sheets import KINDS

if TYPE_CHECKING:
    from shopfloor.doors.door import Door

NO_BODY = OpenApiResponse(description="Done.")


class ProblemSerializer(serializers.Serializer[Any]):
    """A refusal or failure, after RFC 9457."""

    type = serializers.CharField(help_text="/problems/ and the code.")
    title = serializers.CharField(help_text="The code as words.")
    status = serializers.IntegerField()
    detail = serializers.CharField(help_text="What is wrong and what to do.")
    instance = serializers.CharField(help_text="The address that was asked.")
    code = serializers.CharField(help_text="Stable word for programs.")
    facts = serializers.DictField(help_text="Values behind the detail, by name.")
    request_id = serializers.CharField(help_text="The request's number in the log.")


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """How a program signs in, for the description."""

    target_class = "shopfloor.tokens.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        """An API key in a header, as OpenAPI calls it."""
        return {
            "type": "apiKey",
            "in": "header",
            "name": "Authorization",
            "description": "`Token` and a space before the token.",
        }


class DoorSchema(AutoSchema):
    """Reads `takes`, `asks`, `gives` and `roles` of a door."""

    def get_override_parameters(self) -> list[Any]:
        """The request key of a write, the query of a read."""
        if self.method == "POST":
            return [
                OpenApiParameter(
                    KEY_HEADER,
                    {"type": "string", "minLength": 1, "maxLength": KEY_LENGTH_MAX},
                    OpenApiParameter.HEADER,
                    required=True,
                    description="New for each new write; the same when the same is sent again.",
                )
            ]
        asks = self._door.asks
        return [asks] if asks is not None and self.method == "GET" else []

    def get_request_serializer(self) -> Any:
        """The body the method takes; an action may take none."""
        return self._door.takes.get(self.method)

    def get_response_serializers(self) -> Any:
        """The one success, and problems for the rest."""
        status, shape = self._door.given(self.method)
        problem = OpenApiResponse(ProblemSerializer, description="A problem.")
        return {
            status: shape or NO_BODY,
            ("4XX", PROBLEM_TYPE): problem,
            ("5XX", PROBLEM_TYPE): problem,
        }

    def get_description(self) -> str:  # type: ignore[override]
        """The words of the door and of its method, and who may come in."""
        method = getattr(self._door, self.method.lower())
        roles = sorted(self._door.roles.get(self.method, ()))
        who = "Roles: " + (", ".join(roles) or "nobody") + "."
        return "\n\n".join((getdoc(type(self._door)) or "", getdoc(method) or "", who))

    @property
    def _door(self) -> Door:
        return cast("Door", self.view)


class ListSchema(DoorSchema):
    """The same of a list, which also answers as a sheet."""

    def get_override_parameters(self) -> list[Any]:
        """The format beside the rest."""
        parameters = super().get_override_parameters()
        if self.method != "GET":
            return parameters
        return [
            *parameters,
            OpenApiParameter(
                FORMAT,
                {"type": "string", "enum": list(FORMATS), "default": JSON},
                description="A sheet has every row, so it takes no page. `Accept` says it too.",
            ),
        ]

    def get_response_serializers(self) -> Any:
        """The sheets beside the rest."""
        answers = super().get_response_serializers()
        if self.method == "GET":
            for kind in KINDS:
                answers[200, kind.media_type] = OpenApiResponse(
                    OpenApiTypes.BINARY, description="Every row."
                )
        return answers
