"""The door that says what a scan leads to."""

from __future__ import annotations

from typing import Any, ClassVar
from urllib.parse import quote

from django.http import HttpRequest
from django.urls import path
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from batches.labels import selectors
from shopfloor.codes.scan import SEPARATOR_SIGN
from shopfloor.days import shop_day
from shopfloor.doors import ANYONE, Door
from shopfloor.fields import AmountSerializer, ScanField


class ScanSerializer(serializers.Serializer[Any]):
    """What a scanner or a person sent."""

    code = ScanField()


class ReadElementOut(serializers.Serializer[Any]):
    """One element of GS1 data."""

    ai = serializers.CharField(help_text="Application identifier.")
    title = serializers.CharField()
    value = serializers.CharField(help_text="As the symbol has it.")
    words = serializers.CharField(help_text="What it means: a day, an amount with its unit.")


class DeliveryOut(serializers.Serializer[Any]):
    """A line of a receipt as a supplier's label proposes it."""

    scan = serializers.CharField(help_text="To be sent along with the line of the receipt.")
    item = serializers.CharField(allow_null=True)
    supplier = serializers.CharField(allow_null=True, help_text="The only one that offers it so.")
    order = serializers.CharField(allow_null=True, help_text="Our order, as the label has it.")
    amount = AmountSerializer(allow_null=True)
    supplier_lot_code = serializers.CharField()
    expires_on = serializers.DateField(allow_null=True)


class ScanOut(serializers.Serializer[Any]):
    """What the scan leads to."""

    kind = serializers.CharField(help_text="lot, box, batch, item, place ...")
    code = serializers.CharField()
    address = serializers.CharField()
    meaning = serializers.CharField(help_text="The same in words, and what to do.")
    read = ReadElementOut(many=True)
    delivery = DeliveryOut(allow_null=True)


class ScanDoor(Door):
    """What a scan leads to."""

    roles: ClassVar = {"GET": ANYONE}
    asks = ScanSerializer
    gives: ClassVar = {"GET": ScanOut}

    def initialize_request(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Request:
        """Take the separator of GS1 data as a reader sends it, the one control character here."""
        query = request.META.get("QUERY_STRING", "")
        sign = quote(SEPARATOR_SIGN)
        request.META["QUERY_STRING"] = query.replace("%1D", sign).replace("%1d", sign)
        return super().initialize_request(request, *args, **kwargs)

    def get(self, request: Request) -> Response:
        """Look it up."""
        found = selectors.scan_target(self.asked()["code"], on=shop_day(timezone.now()))
        return Response(ScanOut(found).data)


urlpatterns = [path("scan/", ScanDoor.as_view())]
