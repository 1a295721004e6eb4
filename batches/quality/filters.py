"""Filters of the lists of checks and their definitions."""

from __future__ import annotations

import django_filters

from batches.quality.models import Check, CheckDefinition, CheckKind
from shopfloor.code_filter import CodeFilter


class DefinitionFilter(django_filters.FilterSet):
    """By stage, kind, and whether in use."""

    stage = CodeFilter("stage__code")
    kind = django_filters.ChoiceFilter(choices=CheckKind.choices)
    is_active = django_filters.BooleanFilter()

    class Meta:
        model = CheckDefinition
        fields = ["kind", "is_active"]


class CheckFilter(django_filters.FilterSet):
    """By definition, lot, batch, verdict and time."""

    definition = CodeFilter("definition__code")
    lot = CodeFilter("lot__code")
    batch = CodeFilter("batch__code")
    is_passed = django_filters.BooleanFilter()
    at = django_filters.IsoDateTimeFromToRangeFilter()

    class Meta:
        model = Check
        fields = ["is_passed"]
