"""Filters of the lists of batches and entries."""

from __future__ import annotations

import django_filters

from batches.runs.models import Batch, BatchState, Entry


class BatchFilter(django_filters.FilterSet):
    """By stage, item, state and day."""

    stage = django_filters.CharFilter(field_name="stage__code", lookup_expr="iexact", max_length=24)
    item = django_filters.CharFilter(field_name="item__code", lookup_expr="iexact", max_length=24)
    state = django_filters.ChoiceFilter(choices=BatchState.choices)
    planned_on = django_filters.DateFromToRangeFilter()

    class Meta:
        model = Batch
        fields = ["state"]


class EntryFilter(django_filters.FilterSet):
    """By batch, stage, item, person and time."""

    batch = django_filters.CharFilter(field_name="batch__code", lookup_expr="iexact", max_length=24)
    stage = django_filters.CharFilter(
        field_name="batch__stage__code", lookup_expr="iexact", max_length=24
    )
    item = django_filters.CharFilter(
        field_name="batch__item__code", lookup_expr="iexact", max_length=24
    )
    done_by = django_filters.CharFilter(field_name="done_by__username", max_length=40)
    at = django_filters.IsoDateTimeFromToRangeFilter(field_name="posting__at")

    class Meta:
        model = Entry
        fields = ["batch"]
