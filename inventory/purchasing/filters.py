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


class OrderLineFilter(django_filters.FilterSet):
    """By order, supplier and item, the day of promise, and whether more is expected."""

    order = CodeFilter("order__code")
    supplier = CodeFilter("order__supplier__code")
    item = CodeFilter("item__code")
    promised_on = django_filters.DateFromToRangeFilter()
    is_expected = django_filters.BooleanFilter(method="expected")

    class Meta:
        model = SupplierOrderLine
        fields = ["order"]

    def expected(
        self,
        rows: QuerySet[SupplierOrderLine],
        name: str,
        value: bool,  # noqa: FBT001 - django-filter calls it so
    ) -> QuerySet[SupplierOrderLine]:
        """Neither the line nor its order is closed."""
        wanted = {"is_closed": False, "order__state": OrderState.OPEN}
        return rows.filter(**wanted) if value else rows.exclude(**wanted)


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
