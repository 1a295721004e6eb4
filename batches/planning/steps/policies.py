"""Steps about what a person set about planning an item."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Final

from batches.planning.models import PlanningPolicy
from batches.planning.rules.methods import LotSizing
from inventory.catalog.models import Item
from inventory.catalog.selectors import item, measure_of
from inventory.catalog.steps.rows import refuse_unfit
from shopfloor.audit import audit_change, facts_of
from shopfloor.errors import InvalidInputError
from shopfloor.models import User
from shopfloor.units import to_base

AMOUNTS: Final = {"lot": "lot_base", "safety_stock": "safety_stock_base"}
FIELDS: Final = ("lot_sizing", *AMOUNTS, "weeks_served", "lead_time_days", "scrap_ratio")


def edit_policy(
    *, item_code: str, fields: Mapping[str, Any], by: User, at: datetime
) -> PlanningPolicy:
    """Set or clear (None) what holds for one item; what is not named stays.

    Raises:
        NotFoundError: no such item.
        UnitMismatchError, FractionOfPieceError, AmountTooLargeError: an amount.
        InvalidInputError: nothing to change, or `facts["fields"]` has the messages by field.
    """
    if not fields:
        raise InvalidInputError("Say what to set or to clear.", known=sorted(FIELDS))
    of_item = item(item_code)
    # Two people may write the first policy at once: the second finds that of the first.
    _, is_new = PlanningPolicy.objects.get_or_create(item=of_item)
    policy = PlanningPolicy.objects.select_for_update().get(pk=of_item.pk)
    policy.item = of_item
    before = None if is_new else facts_of(policy)
    for name, value in _columns(of_item, fields).items():
        setattr(policy, name, value)
    refuse_unfit(policy)
    _refuse_half(policy)
    policy.save()
    audit_change(by=by, at=at, row=policy, before=before)
    return policy


def _columns(of_item: Item, fields: Mapping[str, Any]) -> dict[str, Any]:
    columns = {name: value for name, value in fields.items() if name not in AMOUNTS}
    if "lot_sizing" in columns:
        columns["lot_sizing"] = columns["lot_sizing"] or ""
    for name in fields.keys() & AMOUNTS.keys():
        given = fields[name]
        columns[AMOUNTS[name]] = given and to_base(
            amount=given.amount, unit=given.unit, item=measure_of(of_item)
        )
    return columns


def _refuse_half(policy: PlanningPolicy) -> None:
    if policy.scrap_ratio is not None and not 0 <= policy.scrap_ratio < 1:
        raise InvalidInputError(
            "Scrap is at least 0 and below 1.",
            fields={"scrap_ratio": ["Say a share from 0 to below 1: 0.05 for one in twenty."]},
        )
    if policy.lot_sizing == LotSizing.FIXED and policy.lot_base is None:
        raise InvalidInputError(
            "Fixed lots need an amount.", fields={"lot": ["Say how much a lot is."]}
        )
    if policy.lot_sizing == LotSizing.PERIOD and policy.weeks_served is None:
        raise InvalidInputError(
            "Orders by period need a number of weeks.",
            fields={"weeks_served": ["Say how many weeks an order serves."]},
        )
