"""Filters of the lists of orders and receipts. Codes are found however they are typed."""

from __future__ import annotations

from datetime import date

import django_filters
from django.db.models import QuerySet

from inventory.purchasing.models import OrderState, Receipt, SupplierOrder, SupplierOrderLine
from shopfloor.code_filter import CodeFilter


class OrderFilter(django_filters.FilterSet):
    """By state, supplier, item, and the days of order and promise."""

    state = django_filters.ChoiceFilter(choices=OrderState.choices)
    supplier = CodeFilter("supplier__code")
    item = CodeFilter("lines__item__code", distinct=True)
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

    supplier = CodeFilter("supplier__code")
    order = CodeFilter("order__code")
    item = CodeFilter("lines__lot__item__code", distinct=True)
    is_reversed = django_filters.BooleanFilter(
        field_name="posting__reversed_by", lookup_expr="isnull", exclude=True
    )
    at = django_filters.IsoDateTimeFromToRangeFilter(field_name="posting__at")

    class Meta:
        model = Receipt
        fields = ["supplier", "order", "item", "is_reversed", "at"]
