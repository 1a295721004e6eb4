"""Filters of the lists of orders and receipts. Codes are found however they are typed."""

from __future__ import annotations

from datetime import date

import django_filters
from django.db.models import QuerySet

from inventory.catalog.filters import code_filter
from inventory.catalog.models import CODE_LENGTH
from inventory.purchasing.models import OrderState, Receipt, SupplierOrder, SupplierOrderLine


class OrderFilter(django_filters.FilterSet):
    """By state, supplier, item, and the days of order and promise."""

    state = django_filters.ChoiceFilter(choices=OrderState.choices)
    supplier = code_filter("supplier__code")
    item = django_filters.CharFilter(
        field_name="lines__item__code", lookup_expr="iexact", max_length=CODE_LENGTH, distinct=True
    )
    ordered_on = django_filters.DateFromToRangeFilter()
    open_promised_before = django_filters.DateFilter(
        method="by_promise", label="Something of it is open that was promised before this day."
    )

    class Meta:
        model = SupplierOrder
        fields = ["state", "supplier", "item", "ordered_on", "open_promised_before"]

    def by_promise(
        self, rows: QuerySet[SupplierOrder], name: str, value: date
    ) -> QuerySet[SupplierOrder]:
        """What is late, when the day is today."""
        late = SupplierOrderLine.objects.filter(is_closed=False, promised_on__lt=value)
        return rows.filter(state=OrderState.OPEN, pk__in=late.values("order"))


class ReceiptFilter(django_filters.FilterSet):
    """By supplier, order, item, day, and whether reversed."""

    supplier = code_filter("supplier__code")
    order = code_filter("order__code")
    item = django_filters.CharFilter(
        field_name="lines__lot__item__code",
        lookup_expr="iexact",
        max_length=CODE_LENGTH,
        distinct=True,
    )
    is_reversed = django_filters.BooleanFilter(
        field_name="posting__reversed_by", lookup_expr="isnull", exclude=True
    )
    at = django_filters.IsoDateTimeFromToRangeFilter(field_name="posting__at")

    class Meta:
        model = Receipt
        fields = ["supplier", "order", "item", "is_reversed", "at"]
