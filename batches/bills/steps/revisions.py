"""Steps about bills and their revisions: drafted, changed while a draft, released once, retired."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from decimal import Decimal

from django.db import IntegrityError
from django.db.models import Max

from batches.bills.errors import BillStandsError, RevisionReleasedError, RevisionRetiredError
from batches.bills.models import Bill, BillAlternative, BillLine, BillRevision, RevisionState
from batches.bills.selectors.sheets import (
    SheetItem,
    SheetLine,
    current_sheets,
    sheet,
    sheet_items,
)
from batches.bills.steps.lines import refuse_ratio
from batches.bills.steps.refusals import refuse_unfit, refuse_wrong_stage
from batches.bills.steps.stages import lock_stage
from inventory.catalog.steps.rows import refuse_unfit as refuse_unfit_row
from shopfloor.audit import audit_change, facts_of
from shopfloor.errors import NotFoundError
from shopfloor.models import User


def add_bill(*, item: SheetItem, stage_code: str, by: User, at: datetime) -> Bill:
    """Make a bill for an item at a stage, with no revision yet; it stays locked.

    Raises:
        BillStandsError: the item has one.
        NotFoundError: no such stage.
        NotActiveError: stage or item is out of use.
        DimensionMismatchError: the stage does not make such an item.
    """
    stage = lock_stage(stage_code)
    refuse_wrong_stage(item, stage)
    try:
        bill = Bill.objects.create(item_id=item.id, stage=stage)
    except IntegrityError as error:
        if "item" not in str(error):
            raise
        raise BillStandsError(
            "The item has a bill already. Make a new revision of it.", item=item.code
        ) from error
    audit_change(by=by, at=at, row=bill, before=None)
    return bill


def move_bill(*, item_code: str, stage_code: str, by: User, at: datetime) -> Bill:
    """Put a bill at another stage; batches that stand keep theirs.

    Raises:
        NotFoundError: no such bill or stage.
        NotActiveError, DimensionMismatchError: it does not fit there.
    """
    stage = lock_stage(stage_code)
    bill = lock_bill(item_code)
    item = sheet_items([bill.item.code])[bill.item.code]
    refuse_wrong_stage(item, stage)
    before = facts_of(bill)
    bill.stage = stage
    bill.save(update_fields=["stage"])
    audit_change(by=by, at=at, row=bill, before=before)
    return bill


def lock_bill(item_code: str) -> Bill:
    """A bill, locked: whoever numbers, changes or releases a revision of it takes turns.

    Raises:
        NotFoundError: the item has no bill.
    """
    bill = bill_if_any(item_code)
    if bill is None:
        raise NotFoundError("The item has no bill of materials. Make one first.", item=item_code)
    return bill


def bill_if_any(item_code: str) -> Bill | None:
    """The item's bill, locked, if it has one, with its item and stage. At most three statements."""
    # The stage is asked for after the lock: joined, a bill put at another stage meanwhile would
    # fall out of the join.
    locked = Bill.objects.select_for_update(no_key=True, of=("self",))
    return locked.prefetch_related("item", "stage").filter(item__code=item_code).first()


def add_revision(
    bill: Bill,
    *,
    scrap_ratio: Decimal,
    note: str,
    lines: Iterable[SheetLine],
    by: User,
    at: datetime,
) -> BillRevision:
    """Give a locked bill a new draft with these lines.

    Raises:
        RatioOutOfRangeError: the scrap ratio.
    """
    refuse_ratio(scrap_ratio, what="scrap ratio", item=bill.code)
    last: int | None = bill.revisions.aggregate(last=Max("number"))["last"]
    revision = BillRevision(
        bill=bill,
        number=(last or 0) + 1,
        scrap_ratio=scrap_ratio,
        note=note,
        by=by,
        recorded_at=at,
    )
    refuse_unfit_row(revision)
    revision.save(force_insert=True)
    lines = tuple(lines)
    _write_lines(revision, lines)
    after = {**facts_of(revision), "lines": _lines_audited(lines)}
    audit_change(by=by, at=at, row=revision, before=None, after=after)
    return revision


def change_draft(
    revision: BillRevision,
    *,
    lines: Sequence[SheetLine] | None,
    scrap_ratio: Decimal | None,
    note: str | None,
    by: User,
    at: datetime,
) -> None:
    """Replace what a draft of a locked bill says; `None` leaves a part as it is.

    Raises:
        RevisionReleasedError: it is not a draft.
        RatioOutOfRangeError: the scrap ratio.
    """
    refuse_released(revision)
    before = {**facts_of(revision), "lines": _lines_audited(sheet(revision.pk).lines)}
    if scrap_ratio is not None:
        refuse_ratio(scrap_ratio, what="scrap ratio", item=revision.bill.code)
        revision.scrap_ratio = scrap_ratio
    revision.note = revision.note if note is None else note
    refuse_unfit_row(revision)
    revision.save(update_fields=["scrap_ratio", "note"])
    after = {**facts_of(revision), "lines": before["lines"]}
    if lines is not None:
        revision.lines.all().delete()
        _write_lines(revision, lines)
        after["lines"] = _lines_audited(lines)
    audit_change(by=by, at=at, row=revision, before=before, after=after)


def release_revision(*, item_code: str, number: int, by: User, at: datetime) -> BillRevision:
    """Make a draft the current revision; the one before is retired.

    Raises:
        NotFoundError: no such bill or revision.
        RevisionReleasedError: it is not a draft.
        BillEmptyError, BillCycleError, NotActiveError, ByProductSharesError,
            LineOfItselfError, DimensionMismatchError, RatioOutOfRangeError: it cannot be used so.
    """
    # Every bill: two releases that each close half of a circle must take turns.
    bills = (
        Bill.objects.select_for_update(no_key=True, of=("self",))
        .order_by("pk")
        .select_related("item")
    )
    bill = next((one for one in bills if one.item.code == item_code), None)
    if bill is None:
        raise NotFoundError("The item has no bill of materials. Make one first.", item=item_code)
    revision = revision_of(bill, number)
    refuse_released(revision)
    others = [one for one in current_sheets() if one.bill_id != bill.pk]
    refuse_unfit(sheet(revision.pk), others)
    for former in bill.revisions.filter(state=RevisionState.CURRENT):
        former.bill = bill
        _move(former, RevisionState.RETIRED, by=by, at=at)
    _move(revision, RevisionState.CURRENT, by=by, at=at)
    return revision


def retire_revision(*, item_code: str, number: int, by: User, at: datetime) -> BillRevision:
    """Retire a revision: the item is made no longer, or the draft is dropped.

    Raises:
        NotFoundError: no such bill or revision.
        RevisionRetiredError: it is retired already.
    """
    revision = revision_of(lock_bill(item_code), number)
    if revision.state == RevisionState.RETIRED:
        raise RevisionRetiredError(
            "The revision is retired already.", item=item_code, revision=number
        )
    _move(revision, RevisionState.RETIRED, by=by, at=at)
    return revision


def revision_of(bill: Bill, number: int) -> BillRevision:
    """A revision of a locked bill.

    Raises:
        NotFoundError: no such number.
    """
    revision = bill.revisions.filter(number=number).first()
    if revision is None:
        raise NotFoundError(
            "The bill has no such revision. Look at its list.", item=bill.code, revision=number
        )
    revision.bill = bill
    return revision


def refuse_released(revision: BillRevision) -> None:
    """Refuse to touch what was released.

    Raises:
        RevisionReleasedError: as named.
    """
    if revision.state != RevisionState.DRAFT:
        raise RevisionReleasedError(
            "A released revision never changes. Make a new revision.",
            item=revision.bill.code,
            revision=revision.number,
            state=revision.state,
        )


def _move(revision: BillRevision, state: RevisionState, *, by: User, at: datetime) -> None:
    before = facts_of(revision)
    revision.state = state
    if state == RevisionState.CURRENT:
        revision.released_at = at
    else:
        revision.retired_at = at
    revision.save(update_fields=["state", "released_at", "retired_at"])
    audit_change(by=by, at=at, row=revision, before=before)


def _write_lines(revision: BillRevision, lines: Sequence[SheetLine]) -> None:
    """Two statements whatever the number of lines."""
    rows = BillLine.objects.bulk_create(
        BillLine(
            revision=revision,
            position=position,
            role=line.role,
            item_id=line.item.id,
            per_piece_base=line.per_piece_base,
            per_batch_base=line.per_batch_base,
            loss_ratio=line.loss_ratio,
            value_ratio=line.value_ratio,
        )
        for position, line in enumerate(lines, start=1)
    )
    BillAlternative.objects.bulk_create(
        BillAlternative(
            line=row, rank=rank, item_id=other.item.id, largest_ratio=other.largest_ratio
        )
        for row, line in zip(rows, lines, strict=True)
        for rank, other in enumerate(line.alternatives, start=1)
    )


def _lines_audited(lines: Iterable[SheetLine]) -> list[dict[str, object]]:
    """The lines as the audit keeps them, in base units."""
    return [
        {
            "item": line.item.code,
            "role": line.role,
            "per_piece_base": f"{line.per_piece_base.normalize():f}",
            "per_batch_base": line.per_batch_base,
            "loss_ratio": f"{line.loss_ratio.normalize():f}",
            "value_ratio": f"{line.value_ratio.normalize():f}",
            "alternatives": [
                [other.item.code, f"{other.largest_ratio.normalize():f}"]
                for other in line.alternatives
            ],
        }
        for line in lines
    ]
