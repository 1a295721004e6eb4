"""Business events of reordering: what a person decides about an item."""

from __future__ import annotations

from datetime import datetime

from inventory.reorder import steps
from inventory.reorder.models import ReorderPolicy
from inventory.reorder.steps import PolicyFields
from shopfloor.models import User
from shopfloor.operation import operation


@operation
def set_reorder_policy(
    *, item_code: str, fields: PolicyFields, by: User, at: datetime
) -> ReorderPolicy:
    """Set or clear what holds for an item; raises as `steps.edit_policy`."""
    return steps.edit_policy(item_code=item_code, fields=fields, by=by, at=at)
