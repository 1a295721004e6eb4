"""Business events of planning."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from batches.planning.models import BuildPlan
from batches.planning.steps.plans import PlanLine, add_plan, edit_plan
from shopfloor.models import User
from shopfloor.operation import operation

__all__ = ["PlanLine", "change_build_plan", "create_build_plan"]


@operation
def create_build_plan(*, code: str, fields: Mapping[str, Any], by: User, at: datetime) -> BuildPlan:
    """Enter a build plan; see `add_plan` for what it refuses."""
    return add_plan(code=code, fields=fields, by=by, at=at)


@operation
def change_build_plan(*, code: str, fields: Mapping[str, Any], by: User, at: datetime) -> BuildPlan:
    """Change a build plan; see `edit_plan` for what it refuses."""
    return edit_plan(code=code, fields=fields, by=by, at=at)
