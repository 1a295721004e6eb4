"""Build plans with their lines."""

from __future__ import annotations

from django.db.models import Prefetch, QuerySet

from batches.planning.models import BuildPlan, BuildPlanLine
from shopfloor.errors import NotFoundError


def build_plans() -> QuerySet[BuildPlan]:
    """Plans with their lines, to be filtered and paged; three statements a page."""
    lines = BuildPlanLine.objects.select_related("item").order_by("week_on", "item__code")
    return BuildPlan.objects.select_related("by").prefetch_related(Prefetch("lines", lines))


def build_plan(code: str) -> BuildPlan:
    """One plan with its lines. Two statements.

    Raises:
        NotFoundError: no such plan.
    """
    row = build_plans().filter(code=code.strip().upper()).first()
    if row is None:
        raise NotFoundError("No build plan has this code. Look at the list.", plan=code)
    return row
