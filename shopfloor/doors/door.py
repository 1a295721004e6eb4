"""The API's door: who may come in by which method, what it takes, asks and gives."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, ClassVar, TypeVar, cast

from rest_framework import serializers
from rest_framework.negotiation import BaseContentNegotiation
from rest_framework.parsers import BaseParser
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from shopfloor.doors.body import StrictJSONParser, refuse_unclear, validated
from shopfloor.doors.once import KEY_HEADER, request_token
from shopfloor.doors.schema import DoorSchema
from shopfloor.errors import InvalidInputError
from shopfloor.models import User
from shopfloor.operation import Operation, RequestToken, answered
from shopfloor.permissions import DeclaredRoles, Roles
from shopfloor.renderers import FastJSONRenderer

R = TypeVar("R")

Shape = type[serializers.BaseSerializer[Any]]


class UnknownParameterError(InvalidInputError):
    """A query parameter this address does not know."""

    code = "unknown_parameter"


class AnyAccept(BaseContentNegotiation):
    """Answers in the door's one format whatever the caller accepts, so that a PDF is a PDF."""

    def select_parser(self, request: Request, parsers: Iterable[BaseParser]) -> BaseParser | None:
        """The parser of the body's media type."""
        sent = (request.content_type or "").partition(";")[0].strip().lower()
        return next((parser for parser in parsers if parser.media_type == sent), None)

    def select_renderer(
        self,
        request: Request,
        renderers: Iterable[BaseRenderer],
        format_suffix: str | None = None,
    ) -> tuple[BaseRenderer, str]:
        """The first renderer."""
        first = next(iter(renderers))
        return first, first.media_type


class NoFields(serializers.Serializer[Any]):
    """The body of an action that takes none: a reason sent along must not be lost in silence."""


class Door(APIView):
    """Reads a request, calls one operation or selector, answers.

    Attributes:
        roles: Who may use which method ("GET", "POST"); what is not declared is for nobody.
        takes: The serializer of the body, by method.
        asks: The serializer of GET's query parameters; others are refused.
        gives: The serializer of the answer by method, with its status where it is not 201 for POST
            and 200 for the rest. The schema is made of it; the door makes the answer.
        secret_fields: Fields of the body that must not be kept, not even as a fast hash.
    """

    roles: ClassVar[Roles] = {}
    takes: ClassVar[Mapping[str, Shape]] = {}
    asks: ClassVar[Shape | None] = None
    gives: ClassVar[Mapping[str, Shape | tuple[int, Shape]]] = {}
    secret_fields: ClassVar[frozenset[str]] = frozenset()

    permission_classes = [DeclaredRoles]
    parser_classes = [StrictJSONParser]
    renderer_classes = [FastJSONRenderer]
    content_negotiation_class = AnyAccept
    http_method_names = ["get", "post", "put", "patch", "delete", "head"]
    schema = DoorSchema()

    @property
    def person(self) -> User:
        """Who is signed in."""
        assert isinstance(self.request.user, User)
        return self.request.user

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Let in whom the roles name, then refuse query parameters that mean nothing here."""
        super().initial(request, *args, **kwargs)
        if not hasattr(self, (request.method or "").lower()):
            return
        known = self.known_parameters()
        unknown = [name for name in request.query_params if name not in known]
        if unknown:
            raise UnknownParameterError(
                f"Unknown query parameter: {unknown[0][:40]}. "
                + (f"Known here: {', '.join(known)}." if known else "This address takes none."),
                unknown=unknown,
                known=list(known),
            )
        refuse_unclear(request.query_params)

    def known_parameters(self) -> Sequence[str]:
        """Names of the query parameters this method takes."""
        if self.asks is None or self.request.method not in {"GET", "HEAD"}:
            return ()
        return list(cast("serializers.Serializer[Any]", self.asks()).fields)

    def read(self, shape: Shape | None = None) -> Any:
        """The body, validated by `shape`, else by what the door `takes`.

        Raises:
            InvalidInputError: `facts["fields"]` has the messages by field.
        """
        return validated(shape or self.takes[self.request.method or ""], self.request.data)

    def asked(self) -> Any:
        """The query parameters, validated by what the door `asks`.

        Raises:
            InvalidInputError: `facts["fields"]` has the messages by parameter.
        """
        assert self.asks is not None
        return validated(self.asks, self.request.query_params)

    def once(
        self,
        request: Request,
        operation: Operation[..., R],
        render: Callable[[R], Any],
        *,
        status: int | None = None,
        **kwargs: Any,
    ) -> Response:
        """Carry out an operation once for the request's key, and answer.

        Args:
            request: The request; its `Idempotency-Key` and body tell it from another.
            operation: What to do.
            render: The answer's body out of the operation's result; run inside its transaction.
            status: That of a success; the one in `gives` when left out.
            kwargs: The operation's arguments.

        Raises:
            InvalidInputError: a body where this door takes none.
        """
        if (request.method or "") not in self.takes:
            validated(NoFields, request.data or {})
        status = status or self.given(request.method or "")[0]
        answer = operation.answering(self._token(request), render, status=status)(**kwargs)
        return Response(answer.body, status=answer.status)

    def answered(self, request: Request) -> Response | None:
        """The first answer, if this request was carried out before; see `shopfloor.operation`."""
        first = answered(self._token(request))
        return None if first is None else Response(first.body, status=first.status)

    def _token(self, request: Request) -> RequestToken:
        return request_token(
            user_id=self.person.pk,
            key=request.headers.get(KEY_HEADER),
            method=request.method or "",
            path=request.get_full_path(),
            body=request.data,
            secret_fields=self.secret_fields,
        )

    def given(self, method: str) -> tuple[int, Shape | None]:
        """Status and shape of a method's success."""
        declared = self.gives.get(method)
        if isinstance(declared, tuple):
            return declared
        return (201 if method == "POST" else 200), declared
