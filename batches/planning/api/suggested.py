"""Doors of what to order today: suggested by supplier, and ordered in one step."""

from __future__ import annotations

from typing import Any, ClassVar

from django.urls import path
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from batches.planning import operations
from batches.planning.selectors.suggested import SOON_DAYS_DEFAULT, suggested_orders
from batches.planning.steps.ordering import WantedLine
from inventory.purchasing.api.orders import (
    LINES_MAX,
    NOTE_LENGTH_MAX,
    PACKS_MAX,
    SupplierOrderPageOut,
    order_json,
)
from inventory.stock.selectors.lots import as_json
from shopfloor.days import shop_day
from shopfloor.doors import ANYONE, LEADS, StampedDoor
from shopfloor.fields import AmountSerializer, CodeField, MoneyTextField, PiecesField

SOON_DAYS_MAX = 365
_WHOLE = "Write whole packs, 1 or more."


class SoonSerializer(serializers.Serializer[Any]):
    """How far ahead."""

    soon_days = PiecesField(
        default=SOON_DAYS_DEFAULT,
        max_value=SOON_DAYS_MAX,
        help_text="What will be due within so many days comes along with what is due.",
    )


class SuggestedLineOut(serializers.Serializer[Any]):
    """One item to order."""

    item = serializers.CharField()
    item_name = serializers.CharField()
    supplier_item_number = serializers.CharField()
    is_due = serializers.BooleanField(help_text="Else it will be, within `soon_days`.")
    order_by = serializers.DateField(allow_null=True, help_text="The last day to order it.")
    position = AmountSerializer()
    reorder_point = AmountSerializer()
    packs = serializers.IntegerField()
    pack = AmountSerializer()
    amount = AmountSerializer()
    pack_price = MoneyTextField(allow_null=True, help_text="For so many packs.")
    value = MoneyTextField(allow_null=True)
    next_price_from = serializers.IntegerField(
        allow_null=True, help_text="Packs from which a pack costs `next_price`."
    )
    next_price = MoneyTextField(allow_null=True)
    why = serializers.CharField()


class SuggestedOrderOut(serializers.Serializer[Any]):
    """What to ask one supplier for."""

    supplier = serializers.CharField()
    supplier_name = serializers.CharField()
    contact = serializers.CharField()
    due = serializers.IntegerField(help_text="Lines that are due.")
    value = MoneyTextField(help_text="Of the lines that have a price.")
    unpriced = serializers.IntegerField(help_text="Lines that have none.")
    lines = SuggestedLineOut(many=True)


class SuggestedOrdersOut(serializers.Serializer[Any]):
    """By supplier, the most urgent first."""

    orders = SuggestedOrderOut(many=True)


class WantedLineSerializer(serializers.Serializer[Any]):
    """Packs of an item, of whom."""

    supplier = CodeField()
    item = CodeField()
    packs = PiecesField(
        min_value=1,
        max_value=PACKS_MAX,
        error_messages=dict.fromkeys(("required", "invalid", "min_value"), _WHOLE),
    )


class OrderSuggestedSerializer(serializers.Serializer[Any]):
    """What is ordered, of all suppliers at once."""

    note = serializers.CharField(
        max_length=NOTE_LENGTH_MAX, required=False, allow_blank=True, default=""
    )
    lines = serializers.ListField(
        child=WantedLineSerializer(),
        min_length=1,
        max_length=LINES_MAX,
        error_messages={"min_length": "Nothing is chosen. Choose at least one line to order."},
    )


class OrderedOut(serializers.Serializer[Any]):
    """The orders, one a supplier."""

    orders = SupplierOrderPageOut(many=True)


class SuggestedOrdersDoor(StampedDoor):
    """What to order today, and all of it ordered in one step."""

    roles: ClassVar = {"GET": ANYONE, "POST": LEADS}
    asks: ClassVar = SoonSerializer
    takes: ClassVar = {"POST": OrderSuggestedSerializer}
    gives: ClassVar = {"GET": SuggestedOrdersOut, "POST": OrderedOut}

    def get(self, request: Request) -> Response:
        """By supplier."""
        on = shop_day(timezone.now())
        orders = suggested_orders(on=on, soon_days=self.asked()["soon_days"])
        return Response({"orders": as_json(orders)})

    def post(self, request: Request) -> Response:
        """Order what is named, an order a supplier; what was suggested is not asked again."""
        body = self.read()
        return self.once(
            request,
            operations.order_suggested,
            lambda orders: {"orders": [order_json(order) for order in orders]},
            lines=[
                WantedLine(line["supplier"], line["item"], line["packs"]) for line in body["lines"]
            ],
            note=body["note"],
            stamp=self.stamp({}),
        )


urlpatterns = [path("planning/suggested-orders/", SuggestedOrdersDoor.as_view())]
