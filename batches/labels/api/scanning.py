"""The door that says what a scan leads to."""

from __future__ import annotations

from typing import Any, ClassVar

from django.urls import path
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from batches.labels import selectors
from shopfloor.codes.scan import SCAN_LENGTH_MAX
from shopfloor.doors import ANYONE, Door

# A scanner may send blanks and control characters around what the symbol holds.
SENT_LENGTH_MAX = SCAN_LENGTH_MAX + 50


class ScanSerializer(serializers.Serializer[Any]):
    """What a scanner or a person sent."""

    code = serializers.CharField(max_length=SENT_LENGTH_MAX, trim_whitespace=False)


class ScanOut(serializers.Serializer[Any]):
    """What the scan leads to."""

    kind = serializers.CharField(help_text="lot, box, batch, item, place ...")
    code = serializers.CharField()
    address = serializers.CharField()


class ScanDoor(Door):
    """What a scan leads to."""

    roles: ClassVar = {"GET": ANYONE}
    asks = ScanSerializer
    gives: ClassVar = {"GET": ScanOut}

    def get(self, request: Request) -> Response:
        """Look it up."""
        return Response(selectors.scan_target(self.asked()["code"])._asdict())


urlpatterns = [path("scan/", ScanDoor.as_view())]
