"""Filters of the record of printing."""

from __future__ import annotations

import django_filters
from django.db.models import QuerySet

from batches.labels.models import Printing
from inventory.catalog.models import CODE_LENGTH


class PrintingFilter(django_filters.FilterSet):
    """By kind, by what a paper is of, by person and time."""

    kind = django_filters.CharFilter(max_length=20)
    paper = django_filters.CharFilter(method="with_paper", max_length=CODE_LENGTH)
    by = django_filters.CharFilter("by__username", max_length=40)
    at = django_filters.IsoDateTimeFromToRangeFilter()

    class Meta:
        model = Printing
        fields = ["kind"]

    def with_paper(self, found: QuerySet[Printing], name: str, value: str) -> QuerySet[Printing]:
        """Printings of a paper of that lot, box, batch ..."""
        return found.filter(papers__code=value.upper())
