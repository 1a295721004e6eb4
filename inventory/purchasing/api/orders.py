"""Doors of supplier orders."""

from __future__ import annotations

from operator import attrgetter
from typing import Any, ClassVar

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.catalog.api.fields import ShownAmountField
from inventory.purchasing import operations, selectors
from inventory.purchasing.filters import OrderFilter, OrderLineFilter
from inventory.purchasing.selectors import progress
from inventory.purchasing.steps import OrderLineDraft
from shopfloor.doors import ANYONE, LEADS, Door, ListDoor, StampedDoor
from shopfloor.fields import AmountSerializer, AtField, CodeField, DayField, MoneyField, PiecesField

LINES_MAX = 200
PACKS_MAX = 10**6
NOTE_LENGTH_MAX = 300


class SupplierOrderLineOut(serializers.Serializer[Any]):
    """One item of an order, and how far it is."""

    line = serializers.IntegerField(source="position")
    item = serializers.CharField(source="item.code")
    packs = serializers.IntegerField()
    pack = ShownAmountField(attrgetter("pack_base"))
    pack_price = MoneyField(source="pack_price_micro")
    promised_on = serializers.DateField(allow_null=True)
    is_closed = serializers.BooleanField()
    ordered = ShownAmountField(lambda line: progress(line).ordered_base)
    received = ShownAmountField(
        lambda line: progress(line).received_base, help_text="Without reversed receipts."
    )
    open = ShownAmountField(
        lambda line: progress(line).open_base, help_text="Still to come; nothing once closed."
    )


class SupplierOrderOut(serializers.Serializer[Any]):
    """What we asked one supplier for on one day."""

    code = serializers.CharField()
    supplier = serializers.CharField(source="supplier.code")
    supplier_name = serializers.CharField(source="supplier.name")
    ordered_on = serializers.DateField()
    state = serializers.ChoiceField(choices=selectors.ORDER_STATES)
    note = serializers.CharField()
    by = serializers.CharField(source="by.username")
    recorded_at = AtField()
    lines = SupplierOrderLineOut(many=True)


class SupplierOrderReceiptOut(serializers.Serializer[Any]):
    """A receipt of an order."""

    code = serializers.CharField()
    at = AtField(source="posting.at")
    delivery_note = serializers.CharField()
    is_reversed = serializers.SerializerMethodField()

    def get_is_reversed(self, receipt: Any) -> bool:
        """Whether it does not count."""
        return hasattr(receipt.posting, "reversed_by")


class SupplierOrderPageOut(SupplierOrderOut):
    """An order with its receipts."""

    receipts = SupplierOrderReceiptOut(many=True)


class SupplierOrderLineSerializer(serializers.Serializer[Any]):
    """One item to be ordered: the pack and its price, or what the supplier's offer says."""

    item = CodeField()
    packs = PiecesField(min_value=1, max_value=PACKS_MAX)
    pack = AmountSerializer(
        required=False, help_text="How much is in a pack; else as in the supplier's offer."
    )
    pack_price = MoneyField(required=False, help_text="Else the offer's for so many packs.")
    promised_on = DayField(required=False, allow_null=True)


class NewSupplierOrderSerializer(serializers.Serializer[Any]):
    """An order to a supplier."""

    supplier = CodeField()
    code = CodeField(required=False, help_text="The shop's own; else one is made.")
    ordered_on = DayField(required=False, help_text="Else today.")
    note = serializers.CharField(
        max_length=NOTE_LENGTH_MAX, required=False, allow_blank=True, default=""
    )
    lines = SupplierOrderLineSerializer(  # type: ignore[call-arg]  # `many` makes a list, which takes them
        many=True, allow_empty=False, max_length=LINES_MAX
    )


class ReasonSerializer(serializers.Serializer[Any]):
    """Why."""

    reason = serializers.CharField(max_length=NOTE_LENGTH_MAX)


class CloseSupplierOrderSerializer(ReasonSerializer):
    """Which line, all if none is named, and why."""

    line = PiecesField(required=False, min_value=1)


class OrdersDoor(ListDoor, StampedDoor):
    """Supplier orders, newest first, with what came and what is open."""

    roles: ClassVar = {"GET": ANYONE, "POST": LEADS}
    takes: ClassVar = {"POST": NewSupplierOrderSerializer}
    gives: ClassVar = {"GET": SupplierOrderOut, "POST": SupplierOrderPageOut}
    filterset_class = OrderFilter
    search_fields = ("code", "supplier__code", "supplier__name", "note", "lines__item__code")
    ordering_fields = ("code", "ordered_on", "supplier__code")
    ordering: ClassVar = ("-pk",)

    def get_queryset(self) -> QuerySet[Any]:
        """All of them."""
        return selectors.orders()

    def post(self, request: Request) -> Response:
        """Write one down."""
        body = self.read()
        return self.once(
            request,
            operations.place_supplier_order,
            order_json,
            supplier_code=body["supplier"],
            lines=[
                OrderLineDraft(
                    item_code=line["item"],
                    packs=line["packs"],
                    pack=line.get("pack"),
                    pack_price_micro=line.get("pack_price"),
                    promised_on=line.get("promised_on"),
                )
                for line in body["lines"]
            ],
            code=body.get("code", ""),
            ordered_on=body.get("ordered_on"),
            note=body["note"],
            stamp=self.stamp({}),
        )


class OrderedLineOut(SupplierOrderLineOut):
    """A line with its order, and what the supplier calls it."""

    order = serializers.CharField(source="order.code")
    supplier = serializers.CharField(source="order.supplier.code")
    ordered_on = serializers.DateField(source="order.ordered_on")
    item_name = serializers.CharField(source="item.name")
    supplier_item_number = serializers.CharField()


class OrderLinesDoor(ListDoor):
    """Lines of supplier orders: what is still to come, or one order as a sheet to send."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": OrderedLineOut}
    filterset_class = OrderLineFilter
    search_fields = ("order__code", "item__code", "item__name")
    ordering_fields = ("promised_on", "order__ordered_on", "item__code")
    ordering: ClassVar = ("-order_id", "position")

    def get_queryset(self) -> QuerySet[Any]:
        """All of them."""
        return selectors.order_lines()


class OrderDoor(Door):
    """One supplier order with its receipts."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": SupplierOrderPageOut}

    def get(self, request: Request, code: str) -> Response:
        """The one with this code."""
        return Response(SupplierOrderPageOut(selectors.order(code)).data)


class OrderCloseDoor(StampedDoor):
    """The end of what is expected on an order, or on one line of it."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": CloseSupplierOrderSerializer}
    gives: ClassVar = {"POST": (200, SupplierOrderPageOut)}

    def post(self, request: Request, code: str) -> Response:
        """Close it; what came stays."""
        body = self.read()
        return self.once(
            request,
            operations.close_supplier_order,
            order_json,
            order_code=code,
            position=body.get("line"),
            stamp=self.stamp(body),
        )


class OrderCancelDoor(StampedDoor):
    """The calling off of an order of which nothing came."""

    roles: ClassVar = {"POST": LEADS}
    takes: ClassVar = {"POST": ReasonSerializer}
    gives: ClassVar = {"POST": (200, SupplierOrderPageOut)}

    def post(self, request: Request, code: str) -> Response:
        """Cancel it."""
        return self.once(
            request,
            operations.cancel_supplier_order,
            order_json,
            order_code=code,
            stamp=self.stamp(self.read()),
        )


def order_json(order: Any) -> dict[str, Any]:
    """An order that an operation answers."""
    return dict(SupplierOrderPageOut(selectors.order(order.code)).data)
