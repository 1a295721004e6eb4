"""The doors that say what a scan leads to, and what fits some words."""

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
from shopfloor.doors.lists import SEARCH_LENGTH_MAX
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


class WordsSerializer(serializers.Serializer[Any]):
    """Some words, or parts of them."""

    words = serializers.CharField(max_length=SEARCH_LENGTH_MAX)


class WordHitOut(serializers.Serializer[Any]):
    """A thing that has all of them in its code or name."""

    kind = serializers.CharField(help_text="item, customer, lot, batch, box ...")
    code = serializers.CharField()
    name = serializers.CharField(help_text="Of a lot or a batch its item's; of a box its state.")
    address = serializers.CharField()


class WordHitsOut(serializers.Serializer[Any]):
    """What fits, kind by kind."""

    found = WordHitOut(many=True)


class SearchDoor(Door):
    """What fits some words, of everything that has a code of its own."""

    roles: ClassVar = {"GET": ANYONE}
    asks = WordsSerializer
    gives: ClassVar = {"GET": WordHitsOut}

    def get(self, request: Request) -> Response:
        """The first 40 by name, and of lots on hand, batches and boxes the newest ten each."""
        found = selectors.found_by_words(self.asked()["words"])
        return Response(WordHitsOut({"found": found}).data)


urlpatterns = [
    path("scan/", ScanDoor.as_view()),
    path("search/", SearchDoor.as_view()),
]
