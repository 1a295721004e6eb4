"""Planning a batch and changing its state."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from batches.bills.models import Bill, BillRevision, RevisionState, Stage
from batches.runs.errors import RevisionNotCurrentError, WrongBatchStateError
from batches.runs.models import Batch, BatchEvent, BatchState
from batches.runs.rules import can_change
from inventory.catalog.errors import DuplicateCodeError
from inventory.catalog.models import Item
from shopfloor.allocation import next_id
from shopfloor.codes.alphabet import Prefix, encode, own_code
from shopfloor.errors import InvalidInputError, NotFoundError
from shopfloor.stamp import Stamp
from shopfloor.units import AMOUNT_BASE_MAX


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
        InvalidInputError: nothing, or too much, is planned.
        OwnCodeError, DuplicateCodeError: of the code.
    """
    if not 0 < plan.planned_base <= AMOUNT_BASE_MAX:
        raise InvalidInputError(
            "Plan more than nothing, and no more than any shop can make.",
            planned_base=plan.planned_base,
        )
    stage, revision = _made_how(plan)
    item = Item.objects.get(code=plan.item_code)
    code = own_code(plan.code) if plan.code else ""
    if code and Batch.objects.filter(code=code).exists():
        raise DuplicateCodeError("A batch has this code. Give another, or none.", codes=[code])
    number = next_id(Batch)
    return Batch.objects.create(
        pk=number,
        code=code or encode(number, Prefix.BATCH),
        item=item,
        stage=stage,
        revision=revision,
        planned_base=plan.planned_base,
        planned_on=plan.planned_on,
        note=plan.note,
        by=stamp.by,
        recorded_at=stamp.now,
    )


def _made_how(plan: BatchPlan) -> tuple[Stage, BillRevision | None]:
    if not Item.objects.filter(code=plan.item_code).exists():
        raise NotFoundError("No item has this code.", item=plan.item_code)
    if plan.rework_stage:
        stage = Stage.objects.filter(code=plan.rework_stage).first()
        if stage is None:
            raise NotFoundError("No stage has this code.", stage=plan.rework_stage)
        return stage, None
    bill = Bill.objects.filter(item__code=plan.item_code).select_related("stage").first()
    if bill is None:
        raise NotFoundError(
            "This item has no bill of materials. Write one, or name the stage of a rework.",
            item=plan.item_code,
        )
    wanted = Q(state=RevisionState.CURRENT) if plan.revision is None else Q(number=plan.revision)
    revision = BillRevision.objects.filter(wanted, bill=bill).first()
    if revision is None or revision.state != RevisionState.CURRENT:
        raise RevisionNotCurrentError(
            "A batch is made to the current revision of its bill only. Release one first.",
            item=plan.item_code,
            revision=plan.revision,
            state=None if revision is None else revision.state,
        )
    return bill.stage, revision


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
