"""Business events of bills of materials: what a lead does to stages, bills and their revisions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal

from batches.bills.models import Stage
from batches.bills.selectors.bills import BillDetail, bill_detail
from batches.bills.selectors.sheets import sheet_items
from batches.bills.steps.copying import copied_lines
from batches.bills.steps.lines import LineDraft, read_lines
from batches.bills.steps.revisions import (
    add_bill,
    add_revision,
    bill_if_any,
    change_draft,
    lock_bill,
    move_bill,
    release_revision,
    retire_revision,
    revision_of,
)
from batches.bills.steps.stages import StageFields, add_stage, edit_stage
from shopfloor.models import User
from shopfloor.operation import operation


@operation
def create_stage(*, code: str, fields: StageFields, by: User, at: datetime) -> Stage:
    """Add a stage.

    Raises:
        OwnCodeError, DuplicateCodeError: the code cannot be used, or is taken.
        NotFoundError: no such place.
    """
    return add_stage(code=code, fields=fields, by=by, at=at)


@operation
def change_stage(*, code: str, fields: StageFields, by: User, at: datetime) -> Stage:
    """Change what a stage is: its name, its order, its place, whether it is in use.

    Raises:
        NotFoundError: no such stage or place.
        DimensionMismatchError: bills stand at it, so what it makes stays.
    """
    return edit_stage(code=code, fields=fields, by=by, at=at)


@operation
def create_bill(
    *,
    item_code: str,
    stage_code: str,
    lines: Sequence[LineDraft] = (),
    scrap_ratio: Decimal = Decimal(0),
    note: str = "",
    by: User,
    at: datetime,
) -> BillDetail:
    """Make a bill for an item at the stage that makes it, with a first draft.

    Raises:
        NotFoundError: no such item or stage.
        BillStandsError: the item has a bill.
        NotActiveError: item or stage is out of use.
        DimensionMismatchError: the stage does not make such an item.
        InvalidInputError: see `read_lines`.
    """
    item = sheet_items([item_code])[item_code]
    bill = add_bill(item=item, stage_code=stage_code, by=by, at=at)
    read = read_lines(lines, item=item, is_mixing=bill.stage.is_mixing)
    revision = add_revision(bill, scrap_ratio=scrap_ratio, note=note, lines=read, by=by, at=at)
    return bill_detail(item_code, revision.number)


@operation
def put_bill_at_stage(*, item_code: str, stage_code: str, by: User, at: datetime) -> BillDetail:
    """Put a bill at another stage; batches that stand keep theirs.

    Raises:
        NotFoundError: no such bill or stage.
        NotActiveError, DimensionMismatchError: it does not fit there.
    """
    move_bill(item_code=item_code, stage_code=stage_code, by=by, at=at)
    return bill_detail(item_code)


@operation
def create_revision(
    *, item_code: str, copy_of: int | None = None, note: str = "", by: User, at: datetime
) -> BillDetail:
    """Make a new draft: a copy of the revision named, else of the current, else of the newest.

    Raises:
        NotFoundError: no such bill or revision.
    """
    bill = lock_bill(item_code)
    source = bill_detail(item_code, copy_of).sheet
    revision = add_revision(
        bill, scrap_ratio=source.scrap_ratio, note=note, lines=source.lines, by=by, at=at
    )
    return bill_detail(item_code, revision.number)


@operation
def change_revision(
    *,
    item_code: str,
    number: int,
    lines: Sequence[LineDraft] | None = None,
    scrap_ratio: Decimal | None = None,
    note: str | None = None,
    by: User,
    at: datetime,
) -> BillDetail:
    """Replace the whole list of a draft's lines; what is `None` stays.

    Raises:
        NotFoundError: no such bill, revision or item.
        RevisionReleasedError: it is not a draft; make a new revision.
        InvalidInputError: see `read_lines`.
    """
    bill = lock_bill(item_code)
    revision = revision_of(bill, number)
    item = sheet_items([bill.code])[bill.code]
    read = None if lines is None else read_lines(lines, item=item, is_mixing=bill.stage.is_mixing)
    change_draft(revision, lines=read, scrap_ratio=scrap_ratio, note=note, by=by, at=at)
    return bill_detail(item_code, number)


@operation
def release_bill(*, item_code: str, number: int, by: User, at: datetime) -> BillDetail:
    """Make a draft the current revision; the one before is retired.

    Raises:
        NotFoundError: no such bill or revision.
        RevisionReleasedError: it is not a draft.
        BillEmptyError, BillCycleError, NotActiveError, ByProductSharesError, LineOfItselfError,
            RatioOutOfRangeError, DimensionMismatchError: it cannot be worked to.
    """
    release_revision(item_code=item_code, number=number, by=by, at=at)
    return bill_detail(item_code, number)


@operation
def retire_bill(*, item_code: str, number: int, by: User, at: datetime) -> BillDetail:
    """Retire a revision: the item is made no longer, or the draft is dropped.

    Raises:
        NotFoundError: no such bill or revision.
        RevisionRetiredError: it is retired already.
    """
    retire_revision(item_code=item_code, number=number, by=by, at=at)
    return bill_detail(item_code, number)


@operation
def copy_bill(
    *,
    item_code: str,
    to_item_code: str,
    copy_of: int | None = None,
    scale_paint: bool = True,
    replaced: Mapping[str, str] | None = None,
    by: User,
    at: datetime,
) -> BillDetail:
    """Make a draft for another model or colorway out of an item's bill, at the same stage.

    Args:
        item_code: Whose bill is copied: the revision named, else the current, else the newest.
        to_item_code: What the draft makes; it gets a bill if it has none, else a new revision.
        copy_of: A revision's number.
        scale_paint: Whether paint and thinner a piece go by the models' painted areas.
        replaced: Items of the lines, by code, and what stands for them in the copy.
        by: Who does it.
        at: When.

    Raises:
        NotFoundError: no such item, bill or revision.
        PaintedAreaMissingError: a model lacks its painted area.
        NotOnBillError: an item to be replaced is not on the bill.
        NotActiveError, DimensionMismatchError, LineOfItselfError, LineTwiceError,
            PerPieceAmountError: the copy cannot be meant.
    """
    to_item = sheet_items([to_item_code])[to_item_code]
    source = bill_detail(item_code, copy_of).sheet
    bill = bill_if_any(to_item_code) or add_bill(
        item=to_item, stage_code=source.stage_code, by=by, at=at
    )
    lines = copied_lines(source, to_item=to_item, scale_paint=scale_paint, replaced=replaced or {})
    revision = add_revision(
        bill, scrap_ratio=source.scrap_ratio, note=source.note, lines=lines, by=by, at=at
    )
    return bill_detail(to_item_code, revision.number)
