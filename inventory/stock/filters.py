"""Filters of the lists of lots, postings and holds."""

from __future__ import annotations

import django_filters
from django.db.models import QuerySet

from inventory.catalog.models import ItemKind
from inventory.stock.models import Disposition, Grade, Hold, Lot, Posting, PostingKind
from shopfloor.code_filter import CodeFilter


class LotFilter(django_filters.FilterSet):
    """By item, place, disposition, what is left and when it expires.

    Its statements are kept (`shopfloor/doors/kept.py`): a filter here looks at its value alone.
    """

    item = CodeFilter("item__code")
    kind = django_filters.ChoiceFilter(field_name="item__kind", choices=ItemKind.choices)
    place = CodeFilter("place__code")
    supplier = CodeFilter("supplier__code")
    supplier_lot_code = django_filters.CharFilter(lookup_expr="iexact", max_length=60)
    disposition = django_filters.ChoiceFilter(choices=Disposition.choices)
    grade = django_filters.ChoiceFilter(choices=Grade.choices)
    is_on_hand = django_filters.BooleanFilter(method="on_hand")
    expires = django_filters.IsoDateTimeFromToRangeFilter(field_name="expires_at")

    class Meta:
        model = Lot
        fields = ["item"]

    def on_hand(self, lots: QuerySet[Lot], name: str, value: bool) -> QuerySet[Lot]:  # noqa: FBT001 - django-filter calls it so
        """Whether anything is left."""
        return lots.filter(on_hand_base__gt=0) if value else lots.filter(on_hand_base=0)


class PostingFilter(django_filters.FilterSet):
    """By kind, time and paper."""

    kind = django_filters.ChoiceFilter(choices=PostingKind.choices)
    document_code = django_filters.CharFilter(lookup_expr="iexact", max_length=60)
    at = django_filters.IsoDateTimeFromToRangeFilter()

    class Meta:
        model = Posting
        fields = ["kind"]


class HoldFilter(django_filters.FilterSet):
    """By lot, and whether still open."""

    lot = CodeFilter("lot__code")
    is_open = django_filters.BooleanFilter(field_name="release", lookup_expr="isnull")

    class Meta:
        model = Hold
        fields = ["lot"]
