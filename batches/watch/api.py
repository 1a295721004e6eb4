"""Doors of alerts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from django.urls import path
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from batches.watch import operations
from batches.watch.filters import AlertFilter
from batches.watch.selectors import alert_row, alerts, row_of
from inventory.stock.selectors.lots import as_json
from shopfloor.doors import ANYONE, LEADS, Door, ListDoor, StampedDoor, WhenWhySerializer
from shopfloor.fields import AtField


class ExposureNameOut(serializers.Serializer[Any]):
    """What the failures have in common, or one of several."""

    kind = serializers.CharField(help_text="lot, supplier, person, station, cavity, age ...")
    name = serializers.CharField()


class AlertOut(serializers.Serializer[Any]):
    """That failures became more frequent."""

    code = serializers.CharField()
    defect = serializers.CharField()
    defect_name = serializers.CharField()
    definition = serializers.CharField(
        allow_null=True, help_text="The check that saw it; null: complaints."
    )
    opened_at = AtField()
    since_at = AtField(help_text="When that was recorded with which it began most likely.")
    tested = serializers.IntegerField(
        help_text="Pieces tested since; for complaints, pieces that left in as many days."
    )
    failed = serializers.IntegerField(help_text="Pieces or flaws since; or complaints.")
    tested_before = serializers.IntegerField()
    failed_before = serializers.IntegerField()
    seen = serializers.CharField(help_text="What was seen, in plain words.")
    cause = serializers.CharField(help_text="What the failures of a year have in common.")
    exposures = ExposureNameOut(
        many=True, help_text="The likely causes, and what cannot be told from them."
    )
    is_open = serializers.BooleanField()
    closed_at = AtField(allow_null=True)
    closed_by = serializers.CharField(allow_null=True)
    closed_because = serializers.CharField()
    is_usual = serializers.BooleanField(
        allow_null=True, help_text="Whether what was seen counts as usual since it was closed."
    )


class CloseAlertSerializer(WhenWhySerializer):
    """Why it is closed."""

    is_usual = serializers.BooleanField(
        default=False,
        help_text="What was seen counts as usual from now on; else it is left out of the usual.",
    )


class AlertsDoor(ListDoor):
    """Alerts that the program opened by itself, newest first."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": AlertOut}
    filterset_class = AlertFilter
    ordering_fields = ("opened_at", "defect__code")
    ordering: ClassVar = ("-pk",)

    def get_queryset(self) -> Any:
        """All alerts."""
        return alerts()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows."""
        return [as_json(row_of(row)) for row in page]


class AlertDoor(Door):
    """One alert."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": AlertOut}

    def get(self, request: Request, code: str) -> Response:
        """The alert."""
        return Response(as_json(alert_row(code)))


class CloseAlertDoor(StampedDoor):
    """The end of an alert, with a reason; the next rise opens another."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": CloseAlertSerializer}
    gives: ClassVar = {"POST": (200, AlertOut)}

    def post(self, request: Request, code: str) -> Response:
        """Close it."""
        body = self.read()
        return self.once(
            request,
            operations.close_alert,
            lambda alert: as_json(alert_row(alert.code)),
            alert_code=code,
            is_usual=body["is_usual"],
            stamp=self.stamp(body),
        )


urlpatterns = [
    path("alerts/", AlertsDoor.as_view()),
    path("alerts/<str:code>/", AlertDoor.as_view()),
    path("alerts/<str:code>/close/", CloseAlertDoor.as_view()),
]
