"""Filters of the list of build plans."""

from __future__ import annotations

import django_filters

from batches.planning.models import BuildPlan
from shopfloor.code_filter import CodeFilter


class BuildPlanFilter(django_filters.FilterSet):
    """By an item it plans, and whether it counts."""

    item = CodeFilter("lines__item__code", distinct=True)
    is_active = django_filters.BooleanFilter()

    class Meta:
        model = BuildPlan
        fields = ["is_active"]
