"""The door of a batch's record."""

from __future__ import annotations

from typing import Any, ClassVar

from django.urls import path
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from batches.labels.api.printings import PrintingOut
from batches.labels.selectors.records import record_page
from batches.packing.api.complaints import ComplaintOut
from batches.quality.api.shapes import CheckOut
from batches.recall.api.shapes import RecallOut
from batches.runs.api.shapes import BatchPageOut
from batches.trace.api.shapes import TraceBatchOut, TraceReceiptOut, TraceShippedOut
from inventory.stock.api.shapes import HoldOut
from inventory.stock.selectors.lots import as_json
from shopfloor.doors import ANYONE, Door
from shopfloor.fields import AmountSerializer, AtField


class RecordNeedOut(serializers.Serializer[Any]):
    """A line of the bill that the batch was made to."""

    item = serializers.CharField()
    name = serializers.CharField()
    role = serializers.CharField()
    takes = AmountSerializer()
    makes = AmountSerializer(help_text="One piece, or so much of a mixture.")
    per_batch = AmountSerializer()
    loss_ratio = serializers.CharField()


class RecordTakenOut(serializers.Serializer[Any]):
    """A lot that the batch took."""

    lot = serializers.CharField()
    item = serializers.CharField()
    name = serializers.CharField()
    amount = AmountSerializer()
    supplier = serializers.CharField(allow_null=True)
    supplier_lot_code = serializers.CharField()
    born_at = AtField()
    disposition = serializers.CharField()


class ConclusionOut(serializers.Serializer[Any]):
    """A change of the disposition of a lot that went in or came out."""

    lot = serializers.CharField()
    at = AtField()
    by = serializers.CharField()
    before = serializers.CharField()
    after = serializers.CharField()
    reason = serializers.CharField()


class YieldOut(serializers.Serializer[Any]):
    """What a batch made of what its entries took."""

    batch = serializers.CharField()
    stage = serializers.CharField()
    item = serializers.CharField()
    first_at = AtField(allow_null=True)
    good = AmountSerializer()
    scrapped = AmountSerializer()
    ratio = serializers.CharField(allow_null=True, help_text="Good of good and scrapped, 0 to 1.")


class RecordOut(serializers.Serializer[Any]):
    """The record of a batch."""

    page = BatchPageOut()
    bill = RecordNeedOut(many=True)
    taken = RecordTakenOut(many=True)
    conclusions = ConclusionOut(many=True)
    yields = YieldOut(many=True)
    checks = CheckOut(many=True)
    holds = HoldOut(many=True)
    complaints = ComplaintOut(many=True)
    recalls = RecallOut(many=True)
    printings = PrintingOut(many=True)
    receipts = TraceReceiptOut(many=True)
    upstream = TraceBatchOut(many=True)
    shipments = TraceShippedOut(many=True)


class RecordDoor(Door):
    """Everything recorded of a batch: what it was made to and of, by whom, what was found."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": RecordOut}

    def get(self, request: Request, code: str) -> Response:
        """All of it, as of now."""
        return Response(as_json(record_page(code.upper())))


urlpatterns = [path("batches/<str:code>/record/", RecordDoor.as_view())]
