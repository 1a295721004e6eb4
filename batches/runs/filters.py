"""Filters of the lists of batches and entries."""

from __future__ import annotations

import django_filters
from django.db.models import Q, QuerySet

from batches.runs.models import Batch, BatchState, Entry
from shopfloor.code_filter import CodeFilter, UsernameFilter


class BatchFilter(django_filters.FilterSet):
    """By stage, item, state and day."""

    stage = CodeFilter("stage__code")
    item = CodeFilter("item__code")
    state = django_filters.ChoiceFilter(choices=BatchState.choices)
    planned_on = django_filters.DateFromToRangeFilter()
    is_open = django_filters.BooleanFilter(
        method="by_open", label="Neither complete nor aborted; or one of these."
    )

    class Meta:
        model = Batch
        fields = ["state"]

    def by_open(self, rows: QuerySet[Batch], name: str, value: bool) -> QuerySet[Batch]:  # noqa: FBT001 - as called
        """Those that may still make something, or those that may not."""
        ended = Q(state__in=(BatchState.COMPLETE, BatchState.ABORTED))
        return rows.exclude(ended) if value else rows.filter(ended)


class EntryFilter(django_filters.FilterSet):
    """By batch, stage, item, person and time."""

    batch = CodeFilter("batch__code")
    stage = CodeFilter("batch__stage__code")
    item = CodeFilter("batch__item__code")
    done_by = UsernameFilter("done_by__username")
    at = django_filters.IsoDateTimeFromToRangeFilter(field_name="posting__at")

    class Meta:
        model = Entry
        fields = ["batch"]
