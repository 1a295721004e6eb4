"""Planning a batch and changing its state."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final, NamedTuple

from django.db.models import TextField

from batches.bills.models import Bill, BillRevision, RevisionState, Stage
from batches.runs.errors import RevisionNotCurrentError, WrongBatchStateError
from batches.runs.models import Batch, BatchEvent, BatchState
from batches.runs.rules import can_change
from inventory.catalog.errors import DuplicateCodeError
from inventory.catalog.models import Item
from inventory.catalog.selectors import measure_of
from shopfloor.allocation import next_id
from shopfloor.codes.alphabet import Prefix, encode, own_code
from shopfloor.errors import InvalidInputError, NotFoundError, ShopError
from shopfloor.fields import PIECES_MAX
from shopfloor.prepared import Given, Prepared
from shopfloor.stamp import Stamp
from shopfloor.units import AmountTooLargeError, display

PLANNED_BASE_MAX: Final = PIECES_MAX
"""Of one batch: so many pieces; of a mixture 1,000 kg or L. A slip of the keys; no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchPlan:
    """What to make.

    Attributes:
        planned_base: Good pieces wanted (base units of a mixture), > 0.
        revision: Number of the bill's revision; None for the current one.
        rework_stage: Code of the stage that works held or second pieces over, without a bill.
        code: The shop's own code, or empty.
    """

    item_code: str
    planned_base: int
    planned_on: date | None = None
    revision: int | None = None
    rework_stage: str = ""
    code: str = ""
    note: str = ""


def plan_batch(plan: BatchPlan, stamp: Stamp) -> Batch:
    """Write a planned batch. Needs an open transaction.

    Raises:
        NotFoundError: no such item or stage, or the item has no bill.
        RevisionNotCurrentError: the revision asked for is not the current one, or there is none.
        InvalidInputError: nothing is planned.
        AmountTooLargeError: more than `PLANNED_BASE_MAX`.
        OwnCodeError, DuplicateCodeError: of the code.
    """
    if plan.planned_base <= 0:
        raise InvalidInputError("Plan more than nothing.", planned_base=plan.planned_base)
    how = _made_how(plan)
    if plan.planned_base > PLANNED_BASE_MAX:
        most = display(PLANNED_BASE_MAX, how.item.display_unit, measure_of(how.item))
        raise AmountTooLargeError(
            f"One batch makes at most {most} of {how.item.code}. Check the digits and the unit.",
            planned_base=plan.planned_base,
            largest_base=PLANNED_BASE_MAX,
        )
    code = own_code(plan.code) if plan.code else ""
    if code and Batch.objects.filter(code=code).exists():
        raise DuplicateCodeError("A batch has this code. Give another, or none.", codes=[code])
    number = next_id(Batch)
    return Batch.objects.create(
        pk=number,
        code=code or encode(number, Prefix.BATCH),
        item=how.item,
        stage=how.stage,
        revision=how.revision,
        planned_base=plan.planned_base,
        planned_on=plan.planned_on,
        note=plan.note,
        by=stamp.by,
        recorded_at=stamp.now,
    )


class _How(NamedTuple):
    """What is made, at which stage, by which bill; none for a rework."""

    item: Item
    stage: Stage
    revision: BillRevision | None


_current_revisions = Prepared(
    lambda: BillRevision.objects.filter(
        bill__item__code=Given("item_code", TextField()), state=RevisionState.CURRENT
    ).select_related("bill__item", "bill__stage")
)


def _made_how(plan: BatchPlan) -> _How:
    if plan.rework_stage:
        return _How(_item_named(plan.item_code), _stage_named(plan.rework_stage), None)
    for revision in _current_revisions(item_code=plan.item_code):
        if plan.revision in {None, revision.number}:
            return _How(revision.bill.item, revision.bill.stage, revision)
    raise _no_revision(_item_named(plan.item_code), plan.revision)


def _item_named(code: str) -> Item:
    item = Item.objects.filter(code=code).first()
    if item is None:
        raise NotFoundError("No item has this code.", item=code)
    return item


def _stage_named(code: str) -> Stage:
    stage = Stage.objects.filter(code=code).first()
    if stage is None:
        raise NotFoundError("No stage has this code.", stage=code)
    return stage


def _no_revision(item: Item, number: int | None) -> ShopError:
    """Why there is none to make a batch to."""
    if not Bill.objects.filter(item=item).exists():
        return NotFoundError(
            "This item has no bill of materials. Write one, or name the stage of a rework.",
            item=item.code,
        )
    numbers = [] if number is None else [number]
    other = BillRevision.objects.filter(bill__item=item, number__in=numbers).first()
    return RevisionNotCurrentError(
        "A batch is made to the current revision of its bill only. Release one first.",
        item=item.code,
        revision=number,
        state=None if other is None else other.state,
    )


def change_state(batch: Batch, after: BatchState, stamp: Stamp) -> None:
    """Change a locked batch's state, and note it.

    Raises:
        WrongBatchStateError: that does not follow from the state it is in.
    """
    before = batch.state
    if not can_change(before, after):
        raise WrongBatchStateError(
            f"The batch is {before} and cannot become {after} from there.",
            batch=batch.code,
            state=before,
        )
    batch.state = after
    batch.save(update_fields=["state"])
    BatchEvent.objects.create(
        batch=batch,
        before=before,
        after=after,
        at=stamp.at,
        recorded_at=stamp.now,
        by=stamp.by,
        reason=stamp.reason,
    )
