"""Filters of the lists of customers, orders, boxes and shipments."""

from __future__ import annotations

import django_filters
from django.db.models import QuerySet

from batches.packing.models import (
    Box,
    BoxState,
    Customer,
    CustomerOrder,
    CustomerOrderState,
    Shipment,
)
from inventory.catalog.models import CODE_LENGTH
from inventory.stock.models import LOT_CODE_LENGTH


class CustomerFilter(django_filters.FilterSet):
    """By whether we sell to them."""

    is_active = django_filters.BooleanFilter()

    class Meta:
        model = Customer
        fields = ["is_active"]


class CustomerOrderFilter(django_filters.FilterSet):
    """By customer, item, state and days."""

    customer = django_filters.CharFilter(
        field_name="customer__code", lookup_expr="iexact", max_length=CODE_LENGTH
    )
    item = django_filters.CharFilter(
        field_name="lines__item__code", lookup_expr="iexact", max_length=CODE_LENGTH, distinct=True
    )
    state = django_filters.ChoiceFilter(choices=CustomerOrderState.choices)
    ordered_on = django_filters.DateFromToRangeFilter()

    class Meta:
        model = CustomerOrder
        fields = ["state"]


class BoxFilter(django_filters.FilterSet):
    """By state, the box it stands in, and a lot now in it."""

    state = django_filters.ChoiceFilter(choices=BoxState.choices)
    parent = django_filters.CharFilter(
        field_name="parent__code", lookup_expr="iexact", max_length=CODE_LENGTH
    )
    lot = django_filters.CharFilter(method="with_lot", max_length=LOT_CODE_LENGTH)

    class Meta:
        model = Box
        fields = ["state"]

    def with_lot(self, boxes: QuerySet[Box], name: str, value: str) -> QuerySet[Box]:
        """Boxes that hold something of the lot."""
        return boxes.filter(place__lots__code__iexact=value, place__lots__on_hand_base__gt=0)


class ShipmentFilter(django_filters.FilterSet):
    """By customer, order, lot, box, time, and whether reversed."""

    customer = django_filters.CharFilter(
        field_name="customer__code", lookup_expr="iexact", max_length=CODE_LENGTH
    )
    order = django_filters.CharFilter(
        field_name="order__code", lookup_expr="iexact", max_length=CODE_LENGTH
    )
    lot = django_filters.CharFilter(
        field_name="lines__lot__code",
        lookup_expr="iexact",
        max_length=LOT_CODE_LENGTH,
        distinct=True,
    )
    box = django_filters.CharFilter(
        field_name="lines__box__code", lookup_expr="iexact", max_length=CODE_LENGTH, distinct=True
    )
    at = django_filters.IsoDateTimeFromToRangeFilter(field_name="posting__at")
    is_reversed = django_filters.BooleanFilter(
        field_name="posting__reversed_by", lookup_expr="isnull", exclude=True
    )

    class Meta:
        model = Shipment
        fields = ["customer"]
