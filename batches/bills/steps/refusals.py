"""What keeps a bill from being made at a stage or from being released."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from batches.bills.errors import (
    BillCycleError,
    BillEmptyError,
    ByProductSharesError,
    DimensionMismatchError,
)
from batches.bills.models import Stage
from batches.bills.rules import find_cycle
from batches.bills.selectors.graph import edges_of
from batches.bills.selectors.sheets import BillSheet, SheetItem
from batches.bills.steps.lines import refuse_contradictions
from inventory.catalog.errors import NotActiveError
from shopfloor.units import Dimension


def refuse_wrong_stage(item: SheetItem, stage: Stage) -> None:
    """Refuse a stage that does not make such an item.

    Raises:
        NotActiveError: stage or item is out of use.
        DimensionMismatchError: pieces are not mixed, and a mixture is not pieces.
    """
    _refuse_inactive_stage(stage.code, is_active=stage.is_active)
    _refuse_inactive([item])
    _refuse_other_dimension(item, stage.code, is_mixing=stage.is_mixing)


def refuse_unfit(draft: BillSheet, others: Iterable[BillSheet]) -> None:
    """Refuse a draft that cannot be worked to.

    Args:
        draft: What is to be released.
        others: The current revisions of all other bills.

    Raises:
        BillEmptyError, NotActiveError, DimensionMismatchError,
            LineOfItselfError, RatioOutOfRangeError, ByProductSharesError, BillCycleError: as named.
    """
    if not draft.taken:
        raise BillEmptyError(
            "The bill takes nothing. Give it at least one line that is taken.",
            item=draft.item.code,
            revision=draft.number,
        )
    _refuse_inactive_stage(draft.stage_code, is_active=draft.stage_is_active)
    _refuse_inactive([draft.item, *_items(draft)])
    # The catalog may have changed since the lines were written.
    _refuse_other_dimension(draft.item, draft.stage_code, is_mixing=draft.stage_is_mixing)
    refuse_contradictions(draft.lines, item=draft.item)
    _refuse_all_the_value(draft)
    _refuse_cycle([draft, *others], start=draft.item.code)


def _items(sheet: BillSheet) -> list[SheetItem]:
    items = [line.item for line in sheet.lines]
    return items + [other.item for line in sheet.lines for other in line.alternatives]


def _refuse_inactive_stage(code: str, *, is_active: bool) -> None:
    if not is_active:
        raise NotActiveError(
            "The stage is out of use. Put the bill at another, or take it into use again.",
            stage=code,
        )


def _refuse_inactive(items: Iterable[SheetItem]) -> None:
    inactive = sorted({item.code for item in items if not item.is_active})
    if inactive:
        raise NotActiveError(
            "Items are out of use. Choose others, or take them into use again.", items=inactive
        )


def _refuse_other_dimension(item: SheetItem, stage_code: str, *, is_mixing: bool) -> None:
    is_mixture = item.dimension in {Dimension.MASS, Dimension.VOLUME}
    if is_mixing and not is_mixture:
        raise DimensionMismatchError(
            "A stage that mixes makes an item kept by mass or volume.",
            item=item.code,
            stage=stage_code,
            dimension=item.dimension,
        )
    if not is_mixing and item.dimension != Dimension.COUNT:
        raise DimensionMismatchError(
            "This stage makes pieces; an item kept by mass, volume or length needs one that mixes.",
            item=item.code,
            stage=stage_code,
            dimension=item.dimension,
        )


def _refuse_all_the_value(sheet: BillSheet) -> None:
    total = sum((line.value_ratio for line in sheet.by_products), Decimal(0))
    if total >= 1:
        raise ByProductSharesError(
            "The by-products would carry off all the value. Their shares must add up to below 1.",
            item=sheet.item.code,
            shares=f"{total.normalize():f}",
            by_products=[line.item.code for line in sheet.by_products],
        )


def _refuse_cycle(sheets: Iterable[BillSheet], *, start: str) -> None:
    # An alternative may be what is really taken, so it closes a circle as well.
    path = find_cycle(edges_of(sheets), start)
    if path is not None:
        raise BillCycleError(
            f"The item would be made of itself: {' takes '.join(path)}.", path=path
        )
