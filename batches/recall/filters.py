"""Filters of the list of recalls."""

from __future__ import annotations

import django_filters

from batches.recall.models import Recall, RecallKind
from shopfloor.code_filter import CodeFilter


class RecallFilter(django_filters.FilterSet):
    """By kind, by a lot it began from, and whether it goes on."""

    kind = django_filters.ChoiceFilter(choices=RecallKind.choices)
    lot = CodeFilter("lots__lot__code")
    is_open = django_filters.BooleanFilter("closing", lookup_expr="isnull")
    at = django_filters.IsoDateTimeFromToRangeFilter()

    class Meta:
        model = Recall
        fields = ["kind"]
