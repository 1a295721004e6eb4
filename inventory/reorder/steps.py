"""Writes of reorder policies, inside an open transaction."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any, TypedDict

from inventory.catalog.models import Item
from inventory.catalog.selectors import item, measure_of
from inventory.catalog.steps.rows import refuse_unfit
from inventory.reorder.errors import no_advice
from inventory.reorder.models import ReorderPolicy
from inventory.reorder.rules import SERVICE_LEVEL_ABOVE, SERVICE_LEVEL_MAX, Fault
from shopfloor.audit import audit_change, facts_of
from shopfloor.errors import InvalidInputError
from shopfloor.fields import Amount
from shopfloor.models import User
from shopfloor.units import to_base


class PolicyFields(TypedDict, total=False):
    """What a person may set about reordering an item; a change names only what changes.

    None clears: the default, or the computed figure, holds again.
    """

    service: str | None
    service_level: Decimal | None
    review_days: int | None
    reorder_point: Amount | None
    order_cost_micro: int | None
    holding_ratio_per_year: Decimal | None
    room: Amount | None
    order_value_max_micro: int | None
    is_watched: bool


def edit_policy(*, item_code: str, fields: PolicyFields, by: User, at: datetime) -> ReorderPolicy:
    """Set or clear what holds for one item. At most eight statements.

    Raises:
        NotFoundError: no such item.
        ServiceLevelOutsideError: outside (0.5, 0.9999].
        UnitMismatchError, FractionOfPieceError, AmountTooLargeError: the reorder point or room.
        InvalidInputError: nothing to change, or `facts["fields"]` has the messages by field.
    """
    if not fields:
        raise InvalidInputError(
            "Say what to set or to clear.", known=sorted(PolicyFields.__annotations__)
        )
    of_item = item(item_code)
    columns = _columns(of_item, fields)
    # Two people may write the first policy at once: the second finds that of the first.
    _, is_new = ReorderPolicy.objects.get_or_create(item=of_item)
    policy = ReorderPolicy.objects.select_for_update().get(pk=of_item.pk)
    policy.item = of_item
    before = None if is_new else facts_of(policy)
    for name, value in columns.items():
        setattr(policy, name, value)
    refuse_unfit(policy)
    policy.save(update_fields=list(columns))
    audit_change(by=by, at=at, row=policy, before=before)
    return policy


def _columns(of_item: Item, fields: PolicyFields) -> dict[str, Any]:
    columns: dict[str, Any] = dict(fields)
    level = fields.get("service_level")
    if level is not None and not SERVICE_LEVEL_ABOVE < level <= SERVICE_LEVEL_MAX:
        raise no_advice(Fault.SERVICE_LEVEL_OUTSIDE, service_level=f"{level:f}")
    if "service" in columns:
        columns["service"] = columns["service"] or ""
    for name in ("reorder_point", "room"):
        if name in columns:
            given: Amount | None = columns.pop(name)
            columns[f"{name}_base"] = (
                None
                if given is None
                else to_base(amount=given.amount, unit=given.unit, item=measure_of(of_item))
            )
    return columns
