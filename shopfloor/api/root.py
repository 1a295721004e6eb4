"""Doors that need nothing of the shop: what there is, and the health check."""

from __future__ import annotations

from functools import cache
from typing import Any, ClassVar, cast

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils.decorators import method_decorator
from django.views import View
from django.views.decorators.cache import never_cache
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.views import SpectacularAPIView
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from shopfloor import selectors
from shopfloor.access import every_address, methods_of
from shopfloor.doors import ANYONE, DeclaredRoles, Door
from shopfloor.problems import DATABASE_AWAY, problem_json

API_ROOT = "api/v1/"


@method_decorator(never_cache, name="dispatch")
class HealthDoor(View):
    """Whether we and the database answer. Needs no sign-in, so it says nothing else."""

    open_to_all: ClassVar = ("GET",)

    def get(self, request: HttpRequest) -> HttpResponse:
        """Ask the database."""
        if selectors.is_database_up():
            return JsonResponse({"status": "ok"})
        return problem_json(request, DATABASE_AWAY)


@cache
def description() -> dict[str, Any]:
    """The API, described to everybody alike: made once, for it takes a second."""
    made: dict[str, Any] = cast("Any", SchemaGenerator)().get_schema(request=None, public=True)
    return made


class _MadeOnce(SchemaGenerator):
    def get_schema(self, request: Request | None = None, public: bool = False) -> dict[str, Any]:  # noqa: FBT001, FBT002 - as the library calls it
        return description()


class DescriptionDoor(SpectacularAPIView):
    """The description of the API, OpenAPI 3.1."""

    roles: ClassVar = {"GET": ANYONE}
    permission_classes = [DeclaredRoles]
    http_method_names = ["get", "head"]
    generator_class = _MadeOnce


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
            (address, methods_of(view, self.person.role))
            for address, view in every_address()
            if address.startswith(f"/{API_ROOT}")
        )
        mine = sorted((address, methods) for address, methods in found if methods)
        return Response({"addresses": [{"address": at, "methods": use} for at, use in mine]})
