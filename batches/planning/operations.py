"""Business events of planning."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from batches.planning.models import BuildPlan, PlanningPolicy
from batches.planning.steps.ordering import WantedLine, add_orders
from batches.planning.steps.plans import PlanLine, add_plan, edit_plan
from batches.planning.steps.policies import edit_policy
from inventory.purchasing.models import SupplierOrder
from shopfloor.models import User
from shopfloor.operation import operation
from shopfloor.stamp import Stamp

__all__ = [
    "PlanLine",
    "change_build_plan",
    "create_build_plan",
    "order_suggested",
    "set_planning_policy",
]


@operation
def create_build_plan(*, code: str, fields: Mapping[str, Any], by: User, at: datetime) -> BuildPlan:
    """Enter a build plan; see `add_plan` for what it refuses."""
    return add_plan(code=code, fields=fields, by=by, at=at)


@operation
def change_build_plan(*, code: str, fields: Mapping[str, Any], by: User, at: datetime) -> BuildPlan:
    """Change a build plan; see `edit_plan` for what it refuses."""
    return edit_plan(code=code, fields=fields, by=by, at=at)


@operation
def order_suggested(*, lines: Sequence[WantedLine], note: str, stamp: Stamp) -> list[SupplierOrder]:
    """Order from several suppliers at once; see `add_orders` for what it refuses."""
    return add_orders(lines=lines, note=note, stamp=stamp)


@operation
def set_planning_policy(
    *, item_code: str, fields: Mapping[str, Any], by: User, at: datetime
) -> PlanningPolicy:
    """Set or clear what holds for planning an item; raises as `edit_policy`."""
    return edit_policy(item_code=item_code, fields=fields, by=by, at=at)
