"""Doors of receipts, their reversal, and what goes back to a supplier."""

from __future__ import annotations

from operator import attrgetter
from typing import Any, ClassVar

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.catalog.api.fields import ShownAmountField
from inventory.purchasing import operations, selectors
from inventory.purchasing.api.orders import ReasonSerializer
from inventory.purchasing.filters import ReceiptFilter
from inventory.purchasing.steps import ReceiptLineDraft, ReturnDraft
from inventory.purchasing.steps.receipts import EXPIRY_YEAR_MAX
from inventory.stock.api.shapes import PostingOut
from inventory.stock.selectors.lots import as_json
from inventory.stock.selectors.postings import posting_row
from shopfloor.doors import ANYONE, LEADS, WRITERS, Door, ListDoor, StampedDoor
from shopfloor.fields import (
    Amount,
    AmountFields,
    AtField,
    CodeField,
    DayField,
    MoneyField,
    OptionalAmountFields,
    PiecesField,
    ScanField,
)

LINES_MAX = 200
TEXT_LENGTH_MAX = 60
OWNER_LENGTH_MAX = 120
_NEEDED = ("item", "amount", "unit")
_REQUIRED = "This field is required, unless a label was scanned that says it."
_BOTH = "Give amount and unit, or neither."
DISPOSITIONS = [("released", "released"), ("quarantined", "quarantined")]


item_of = attrgetter("lot.item")


def ordered_base(line: Any) -> int:
    """Base units ordered on the order line that a receipt line answers."""
    return int(line.order_line.packs * line.order_line.pack_base)


class OrderProgressOut(serializers.Serializer[Any]):
    """How a delivery stood to its order line when it was written down."""

    line = serializers.IntegerField(source="order_line.position")
    ordered = ShownAmountField(ordered_base, item=item_of)
    received_before = ShownAmountField(attrgetter("before_base"), item=item_of)
    received_now = ShownAmountField(attrgetter("qty_base"), item=item_of)
    is_over = serializers.SerializerMethodField(help_text="More came than was ordered.")

    def get_is_over(self, line: Any) -> bool:
        """More is all that came up to this, this included."""
        return bool(line.before_base + line.qty_base > ordered_base(line))


class ReceiptLineOut(serializers.Serializer[Any]):
    """One lot that came."""

    lot = serializers.CharField(source="lot.code")
    item = serializers.CharField(source="lot.item.code")
    amount = ShownAmountField(attrgetter("qty_base"), item=item_of)
    value = MoneyField(source="value_micro")
    supplier_lot_code = serializers.CharField(source="lot.supplier_lot_code")
    expires_at = AtField(source="lot.expires_at", allow_null=True)
    place = serializers.CharField(source="lot.place.code", help_text="Where the lot is now.")
    disposition = serializers.CharField(source="lot.disposition", help_text="What it is now.")
    owner = serializers.CharField(source="lot.owner", help_text="Empty: ours.")
    order_line = serializers.SerializerMethodField()

    @extend_schema_field(OrderProgressOut(allow_null=True))
    def get_order_line(self, line: Any) -> Any:
        """The order line it answers, if any."""
        return None if line.order_line is None else OrderProgressOut(line).data


class ReceiptOut(serializers.Serializer[Any]):
    """One delivery."""

    code = serializers.CharField()
    posting = serializers.CharField(source="posting.code")
    supplier = serializers.CharField(source="supplier.code")
    supplier_name = serializers.CharField(source="supplier.name")
    order = serializers.CharField(source="order.code", allow_null=True)
    order_state = serializers.CharField(source="order.state", allow_null=True)
    delivery_note = serializers.CharField()
    at = AtField(source="posting.at")
    recorded_at = AtField(source="posting.recorded_at")
    by = serializers.CharField(source="posting.by.username")
    reversed_by = serializers.SerializerMethodField()
    lines = ReceiptLineOut(many=True)

    def get_reversed_by(self, receipt: Any) -> str | None:
        """The posting that undid it."""
        undoing = getattr(receipt.posting, "reversed_by", None)
        return None if undoing is None else undoing.code


class ReceiptLineSerializer(OptionalAmountFields):
    """One lot that came; a field left out is taken from the scan, the item or the order line."""

    scan = ScanField(
        required=False,
        help_text="The supplier's GS1 label. It gives item, amount, lot and expiry; what is typed "
        "besides must agree. Its separator is ASCII 29 or ␝.",
    )
    item = CodeField(required=False, help_text="Needed without a scan.")
    order_line = PiecesField(required=False, min_value=1, help_text="Number of the order's line.")
    value = MoneyField(required=False, help_text="What all of it cost.")
    lot_code = CodeField(required=False, help_text="The shop's own; else one is made.")
    supplier_lot_code = serializers.CharField(
        max_length=TEXT_LENGTH_MAX, required=False, allow_blank=True
    )
    expires_on = DayField(
        year_max=EXPIRY_YEAR_MAX,
        required=False,
        allow_null=True,
        help_text="The last day it may be used.",
    )
    place = CodeField(required=False, help_text="Else the item's storage place.")
    disposition = serializers.ChoiceField(
        choices=DISPOSITIONS, required=False, help_text="Else as the item arrives; only stricter."
    )
    owner = serializers.CharField(
        max_length=OWNER_LENGTH_MAX,
        required=False,
        allow_blank=True,
        help_text="A customer, if it is theirs; then it has no value.",
    )

    def to_internal_value(self, data: Any) -> ReceiptLineDraft:
        """Read it as the operation takes it."""
        line = super().to_internal_value(data)
        lacking = [] if line.get("scan") else [name for name in _NEEDED if name not in line]
        if lacking:
            raise serializers.ValidationError({name: [_REQUIRED] for name in lacking})
        if ("amount" in line) != ("unit" in line):
            raise serializers.ValidationError({"amount": [_BOTH]})
        return ReceiptLineDraft(
            item_code=line.get("item", ""),
            amount=Amount(line["amount"], line["unit"]) if "amount" in line else None,
            order_position=line.get("order_line"),
            value_micro=line.get("value"),
            lot_code=line.get("lot_code", ""),
            supplier_lot_code=line.get("supplier_lot_code", ""),
            expires_on=line.get("expires_on"),
            place_code=line.get("place", ""),
            disposition=line.get("disposition", ""),
            owner=line.get("owner", ""),
            scan=line.get("scan", ""),
        )

    def validate(self, attrs: Any) -> Any:
        """A draft already; what must come together is looked at above."""
        return attrs


class NewReceiptSerializer(serializers.Serializer[Any]):
    """A delivery."""

    supplier = CodeField()
    order = CodeField(required=False, allow_blank=True, default="")
    at = AtField(required=False, help_text="When it came; else now.")
    delivery_note = serializers.CharField(
        max_length=TEXT_LENGTH_MAX, required=False, allow_blank=True, default=""
    )
    lines = ReceiptLineSerializer(  # type: ignore[call-arg]  # `many` makes a list, which takes them
        many=True, allow_empty=False, max_length=LINES_MAX
    )


class SupplierReturnLineSerializer(AmountFields):
    """How much of which lot goes back."""

    lot = CodeField()

    def to_internal_value(self, data: Any) -> ReturnDraft:
        """Read it as the operation takes it."""
        line = super().to_internal_value(data)
        return ReturnDraft(line["lot"], Amount(line["amount"], line["unit"]))


class NewSupplierReturnSerializer(ReasonSerializer):
    """What goes back to the supplier it came from, and why."""

    at = AtField(required=False, help_text="When it left; else now.")
    lots = SupplierReturnLineSerializer(  # type: ignore[call-arg]  # `many` makes a list, which takes them
        many=True, allow_empty=False, max_length=LINES_MAX
    )


class ReceiptsDoor(ListDoor, StampedDoor):
    """Receipts, newest first."""

    roles: ClassVar = {"GET": ANYONE, "POST": WRITERS}
    takes: ClassVar = {"POST": NewReceiptSerializer}
    gives: ClassVar = {"GET": ReceiptOut, "POST": ReceiptOut}
    filterset_class = ReceiptFilter
    search_fields = (
        "delivery_note",
        "supplier__code",
        "supplier__name",
        "order__code",
        "lines__lot__code",
        "lines__lot__supplier_lot_code",
    )
    ordering_fields = ("posting__at", "supplier__code")
    ordering: ClassVar = ("-pk",)

    def get_queryset(self) -> QuerySet[Any]:
        """All of them."""
        return selectors.receipts()

    def post(self, request: Request) -> Response:
        """Take a delivery in: a lot a line. More than was ordered is taken in too, and shown."""
        body = self.read()
        return self.once(
            request,
            operations.receive_delivery,
            lambda receipt: receipt_json(receipt.code),
            supplier_code=body["supplier"],
            order_code=body["order"],
            delivery_note=body["delivery_note"],
            lines=body["lines"],
            stamp=self.stamp(body),
        )


class ReceiptDoor(Door):
    """One receipt with its lots."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": ReceiptOut}

    def get(self, request: Request, code: str) -> Response:
        """The one with this code."""
        return Response(receipt_json(code))


class ReceiptReverseDoor(StampedDoor):
    """The undoing of a receipt whose lots are untouched."""

    roles: ClassVar = {"POST": WRITERS}
    takes: ClassVar = {"POST": ReasonSerializer}
    gives: ClassVar = {"POST": (200, ReceiptOut)}

    def post(self, request: Request, code: str) -> Response:
        """Reverse it; its order lines are open again."""
        return self.once(
            request,
            operations.reverse_receipt,
            lambda posted: receipt_json(code),
            receipt_code=code,
            stamp=self.stamp(self.read()),
        )


class SupplierReturnsDoor(StampedDoor):
    """What goes back to a supplier, held and rejected lots too."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": NewSupplierReturnSerializer}
    gives: ClassVar = {"POST": PostingOut}

    def post(self, request: Request) -> Response:
        """Send it back: one posting, at what the lots are worth here."""
        body = self.read()
        return self.once(
            request,
            operations.return_to_supplier,
            posting_json,
            lots=body["lots"],
            stamp=self.stamp(body),
        )


class SupplierReturnReverseDoor(StampedDoor):
    """The undoing of a return that was written down wrongly, by the code of its posting."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": ReasonSerializer}
    gives: ClassVar = {"POST": (200, PostingOut)}

    def post(self, request: Request, code: str) -> Response:
        """Reverse it."""
        return self.once(
            request,
            operations.reverse_supplier_return,
            posting_json,
            posting_code=code,
            stamp=self.stamp(self.read()),
        )


def receipt_json(code: str) -> dict[str, Any]:
    """A receipt as the API answers one."""
    return dict(ReceiptOut(selectors.receipt(code)).data)


def posting_json(posted: Any) -> Any:
    """The posting that an operation answers."""
    return as_json(posting_row(posted.posting.code))
