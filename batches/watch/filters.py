"""Filters of the list of alerts."""

from __future__ import annotations

import django_filters

from batches.watch.models import Alert
from shopfloor.code_filter import CodeFilter


class AlertFilter(django_filters.FilterSet):
    """By defect, check, time, and whether open."""

    defect = CodeFilter("defect__code")
    definition = CodeFilter("definition__code")
    is_open = django_filters.BooleanFilter(field_name="closing", lookup_expr="isnull")
    opened_at = django_filters.IsoDateTimeFromToRangeFilter()

    class Meta:
        model = Alert
        fields = ["defect"]
