"""Filters of the lists of stages and bills. Codes are found however they are typed."""

from __future__ import annotations

import django_filters
from django.db.models import Q, QuerySet

from batches.bills.models import Bill, BillLine, BillRevision, LineRole, RevisionState, Stage
from inventory.catalog.models import Item, ItemKind
from shopfloor.code_filter import CodeFilter


class StageFilter(django_filters.FilterSet):
    """By whether it mixes, and whether in use."""

    is_mixing = django_filters.BooleanFilter()
    is_active = django_filters.BooleanFilter()

    class Meta:
        model = Stage
        fields = ["is_mixing", "is_active"]


class BillFilter(django_filters.FilterSet):
    """By stage, kind, model and colorway, by what the current revision takes, by what there is."""

    stage = CodeFilter("stage__code")
    kind = django_filters.ChoiceFilter(field_name="item__kind", choices=ItemKind.choices)
    model = CodeFilter("item__model__code")
    colorway = CodeFilter("item__colorway__code")
    takes = CodeFilter(method="by_taken", of=Item, label="The current revision takes this item.")
    has_current = django_filters.BooleanFilter(
        field_name="current_number", lookup_expr="isnull", exclude=True
    )
    has_draft = django_filters.BooleanFilter(method="by_draft", label="Has a draft.")

    class Meta:
        model = Bill
        fields = ["stage", "kind", "model", "colorway", "takes", "has_current", "has_draft"]

    def by_taken(self, rows: QuerySet[Bill], name: str, value: str) -> QuerySet[Bill]:
        """Bills that take it, or may take it instead of another."""
        lines = BillLine.objects.filter(
            Q(item__code=value) | Q(alternatives__item__code=value),
            role=LineRole.TAKEN,
            revision__state=RevisionState.CURRENT,
        )
        return rows.filter(pk__in=lines.values("revision__bill_id"))

    def by_draft(self, rows: QuerySet[Bill], name: str, value: bool) -> QuerySet[Bill]:  # noqa: FBT001 - as called
        """Whether somebody has a draft of it."""
        drafts = BillRevision.objects.filter(state=RevisionState.DRAFT).values("bill_id")
        return rows.filter(pk__in=drafts) if value else rows.exclude(pk__in=drafts)
