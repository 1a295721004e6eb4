"""Filters of the lists of customers, orders, boxes, shipments, returns and complaints."""

from __future__ import annotations

import django_filters
from django.db.models import QuerySet

from batches.packing.models import (
    Box,
    BoxState,
    Complaint,
    Customer,
    CustomerOrder,
    CustomerOrderState,
    CustomerReturn,
    Shipment,
)
from inventory.catalog.models import CODE_LENGTH
from inventory.stock.models import Lot
from shopfloor.code_filter import CodeFilter
from shopfloor.codes.alphabet import Prefix, decode


class CustomerFilter(django_filters.FilterSet):
    """By whether we sell to them."""

    is_active = django_filters.BooleanFilter()

    class Meta:
        model = Customer
        fields = ["is_active"]


class CustomerOrderFilter(django_filters.FilterSet):
    """By customer, item, state and days."""

    customer = CodeFilter("customer__code")
    item = CodeFilter("lines__item__code", distinct=True)
    state = django_filters.ChoiceFilter(choices=CustomerOrderState.choices)
    ordered_on = django_filters.DateFromToRangeFilter()

    class Meta:
        model = CustomerOrder
        fields = ["state"]


class BoxFilter(django_filters.FilterSet):
    """By state, the box it stands in, and a lot now in it."""

    state = django_filters.ChoiceFilter(choices=BoxState.choices)
    parent = CodeFilter("parent__code")
    lot = CodeFilter(method="with_lot", of=Lot)

    class Meta:
        model = Box
        fields = ["state"]

    def with_lot(self, boxes: QuerySet[Box], name: str, value: str) -> QuerySet[Box]:
        """Boxes that hold something of the lot."""
        return boxes.filter(place__lots__code=value, place__lots__on_hand_base__gt=0)


class ShipmentFilter(django_filters.FilterSet):
    """By customer, order, lot, box, time, and whether reversed."""

    customer = CodeFilter("customer__code")
    order = CodeFilter("order__code")
    lot = CodeFilter("lines__lot__code", distinct=True)
    box = CodeFilter("lines__box__code", distinct=True)
    at = django_filters.IsoDateTimeFromToRangeFilter(field_name="posting__at")
    is_reversed = django_filters.BooleanFilter(
        field_name="posting__reversed_by", lookup_expr="isnull", exclude=True
    )

    class Meta:
        model = Shipment
        fields = ["customer"]


class CustomerReturnFilter(django_filters.FilterSet):
    """By customer, shipment, lot and time."""

    customer = CodeFilter("shipment__customer__code")
    complaint = django_filters.CharFilter(method="of_complaint", max_length=CODE_LENGTH)
    shipment = django_filters.CharFilter(method="of_shipment", max_length=CODE_LENGTH)
    lot = CodeFilter("posting__movements__lot__code", distinct=True)
    at = django_filters.IsoDateTimeFromToRangeFilter(field_name="posting__at")

    class Meta:
        model = CustomerReturn
        fields = ["customer"]

    def of_shipment(
        self, returns: QuerySet[CustomerReturn], name: str, value: str
    ) -> QuerySet[CustomerReturn]:
        """What came back of one shipment; a code with a slip is refused as anywhere."""
        return returns.filter(shipment=decode(value, Prefix.SHIPMENT)[1])

    def of_complaint(
        self, returns: QuerySet[CustomerReturn], name: str, value: str
    ) -> QuerySet[CustomerReturn]:
        """What came back for one complaint."""
        return returns.filter(complaint=decode(value, Prefix.COMPLAINT)[1])


class ComplaintFilter(django_filters.FilterSet):
    """By defect, customer, what it names, days, and whether replaced."""

    defect = CodeFilter("defect__code")
    customer = CodeFilter("customer__code")
    box = CodeFilter("box__code")
    lot = CodeFilter("lot__code")
    item = CodeFilter("item__code")
    model = CodeFilter("model__code")
    told_on = django_filters.DateFromToRangeFilter()
    is_replaced = django_filters.BooleanFilter(
        field_name="replaced_by", lookup_expr="isnull", exclude=True
    )

    class Meta:
        model = Complaint
        fields = ["customer"]
