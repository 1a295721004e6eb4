# ruff: noqa: D101, D102 - the class says what its method does
"""Doors that only tests have, beside the real addresses: what no real door does, these do."""

from __future__ import annotations

import sqlite3
from typing import Any, ClassVar

from django.core.exceptions import PermissionDenied, RequestDataTooBig, SuspiciousOperation
from django.db import OperationalError
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import path
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from shopfloor import urls
from shopfloor.doors import ANYONE, LEADS, WRITERS, Door, PageDoor
from shopfloor.errors import ConflictError
from shopfloor.fields import AmountSerializer, AtField, CodeField, PiecesField
from shopfloor.models import User
from shopfloor.operation import operation
from shopfloor.roles import Role


class BenchFullError(ConflictError):
    """The bench is full."""

    code = "bench_full"


class LineSerializer(serializers.Serializer[Any]):
    lot = CodeField()
    taken = AmountSerializer()


class BodySerializer(serializers.Serializer[Any]):
    good = PiecesField()
    at = AtField(required=False)
    lines = LineSerializer(many=True, required=False)


class QuerySerializer(serializers.Serializer[Any]):
    lot = CodeField()


class BareDoor(Door):
    """Declares nobody."""

    def get(self, request: Request) -> Response:
        return Response({})


class HalfDoor(Door):
    """Declares GET alone, though it has POST."""

    roles: ClassVar = {"GET": LEADS}
    asks = QuerySerializer

    def get(self, request: Request) -> Response:
        return Response(self.asked())

    def post(self, request: Request) -> Response:
        return Response({})


class ReadDoor(Door):
    """Answers what it read."""

    roles: ClassVar = {"POST": WRITERS}
    takes: ClassVar = {"POST": BodySerializer}

    def post(self, request: Request) -> Response:
        return Response(str(self.read()))


@operation
def count_calls(*, username: str) -> int:
    """Enter a person each time: what was done twice shows."""
    people = User.objects.count()
    User.objects.create(
        username=f"{username}{people}",
        display_name="x",
        role=Role.VIEWER,
        created_at=timezone.now(),
    )
    return people + 1


@operation
def refuse_after_writing(*, username: str) -> int:
    """Write, then refuse."""
    User.objects.create(
        username=username, display_name="x", role=Role.VIEWER, created_at=timezone.now()
    )
    raise BenchFullError("The bench is full. Clear it.", places=4)


class OnceDoor(Door):
    """Enters one more person a call, whatever is sent."""

    roles: ClassVar = {"POST": ANYONE}
    takes: ClassVar = {"POST": BodySerializer}

    def post(self, request: Request) -> Response:
        return self.once(request, count_calls, lambda people: {"people": people}, username="p")


class NoBodyDoor(Door):
    """Enters one more person a call; takes no body."""

    roles: ClassVar = {"POST": ANYONE}

    def post(self, request: Request) -> Response:
        return self.once(request, count_calls, lambda people: {"people": people}, username="n")


class RefuseDoor(Door):
    """Refuses after it wrote."""

    roles: ClassVar = {"POST": ANYONE}

    def post(self, request: Request) -> Response:
        return self.once(request, refuse_after_writing, lambda people: {}, username="written")


def database_fault(sqlite_name: str) -> OperationalError:
    cause = sqlite3.OperationalError("x")
    cause.sqlite_errorname = sqlite_name
    fault = OperationalError("x")
    fault.__cause__ = cause
    return fault


FAULTS: dict[str, Exception] = {
    "refusal": BenchFullError("The bench is full. Clear it.", places=4),
    "missing": Http404("secret inside"),
    "denied": PermissionDenied("secret inside"),
    "suspicious": SuspiciousOperation("secret inside"),
    "big": RequestDataTooBig("secret inside"),
    "busy": database_fault("SQLITE_BUSY_SNAPSHOT"),
    "gone": OperationalError("secret inside"),
    "no-table": database_fault("SQLITE_ERROR"),
    "bug": ZeroDivisionError("secret inside"),
}


class FaultDoor(Door):
    """Raises what the address names."""

    roles: ClassVar = {"GET": ANYONE}

    def get(self, request: Request, fault: str) -> Response:
        raise FAULTS[fault]


def fault_page(request: HttpRequest, fault: str) -> HttpResponse:
    raise FAULTS[fault]


class LeadPage(PageDoor):
    """For leads; POST is declared for nobody."""

    roles: ClassVar = {"GET": LEADS}

    def get(self, request: HttpRequest) -> HttpResponse:
        return HttpResponse(f"for {self.person.username}")

    def post(self, request: HttpRequest) -> HttpResponse:
        return HttpResponse("never")


class OncePage(PageDoor):
    """A form that enters one more person."""

    roles: ClassVar = {"POST": ANYONE}

    def post(self, request: HttpRequest) -> HttpResponse:
        answer = self.once(count_calls, lambda people: {"people": people}, username="p")
        return HttpResponse(str(answer.body["people"]))


urlpatterns = [
    *urls.urlpatterns,
    path("api/probe/bare/", BareDoor.as_view()),
    path("api/probe/half/", HalfDoor.as_view()),
    path("api/probe/read/", ReadDoor.as_view()),
    path("api/probe/once/", OnceDoor.as_view()),
    path("api/probe/no-body/", NoBodyDoor.as_view()),
    path("api/probe/refuse/", RefuseDoor.as_view()),
    path("api/probe/fault/<str:fault>/", FaultDoor.as_view()),
    path("probe/fault/<str:fault>/", fault_page),
    path("probe/lead/", LeadPage.as_view()),
    path("probe/once/", OncePage.as_view()),
]
handler400 = urls.handler400
handler403 = urls.handler403
handler404 = urls.handler404
handler500 = urls.handler500
