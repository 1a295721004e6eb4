"""A bill copied for another model or colorway: paint scaled by painted area, items replaced."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction

from batches.bills.errors import (
    DimensionMismatchError,
    NotOnBillError,
    PaintedAreaMissingError,
    PerPieceAmountError,
)
from batches.bills.rules import scaled_paint
from batches.bills.selectors.sheets import BillSheet, SheetItem, SheetLine, sheet_items
from batches.bills.steps.lines import fitted, refuse_contradictions
from inventory.catalog.models import Item, ItemKind

PAINT_KINDS = frozenset({ItemKind.PAINT, ItemKind.THINNER})


def copied_lines(
    source: BillSheet, *, to_item: SheetItem, scale_paint: bool, replaced: Mapping[str, str]
) -> tuple[SheetLine, ...]:
    """The lines for another item.

    Paint and thinner a piece go by painted area; what goes once a batch stays, since the cup and
    the gun are the same. A mixture's lines are shares of it and stay.

    Args:
        source: What to copy.
        to_item: What the copy makes.
        scale_paint: Whether to scale paint.
        replaced: Item codes of the source's lines, and what stands for them in the copy.

    Raises:
        NotFoundError: an item that does not exist.
        NotOnBillError: an item to be replaced is not on the bill.
        PaintedAreaMissingError: paint is to be scaled and a model lacks its painted area.
        DimensionMismatchError, LineOfItselfError, LineTwiceError: the copy would contradict itself.
        PerPieceAmountError: a scaled amount too small to be kept.
    """
    if to_item.dimension != source.item.dimension:
        raise DimensionMismatchError(
            "A bill is copied to an item that is measured like its own.",
            item=source.item.code,
            to_item=to_item.code,
        )
    lines = source.lines
    if scale_paint and not source.stage_is_mixing:
        lines = _scaled(lines, source.item, to_item)
    if replaced:
        lines = _replaced(lines, {old.upper(): new.upper() for old, new in replaced.items()})
    refuse_contradictions(lines, item=to_item)
    return lines


def _scaled(
    lines: tuple[SheetLine, ...], from_item: SheetItem, to_item: SheetItem
) -> tuple[SheetLine, ...]:
    if not any(_is_paint(line) for line in lines):
        return lines
    areas = _painted_areas([from_item, to_item])
    return tuple(_scaled_line(line, areas[from_item.id], areas[to_item.id]) for line in lines)


def _scaled_line(line: SheetLine, from_area_mm2: int, to_area_mm2: int) -> SheetLine:
    if not _is_paint(line):
        return line
    scaled = scaled_paint(line.per_piece_base, from_area_mm2, to_area_mm2)
    if not scaled:
        raise PerPieceAmountError(
            "Scaled, the paint is too little to be kept.", item=line.item.code
        )
    return replace(line, per_piece_base=fitted(Fraction(scaled), line.item))


def _is_paint(line: SheetLine) -> bool:
    return line.item.kind in PAINT_KINDS and line.per_piece_base > 0


def _painted_areas(items: Iterable[SheetItem]) -> dict[int, int]:
    """Square millimeters painted, by item id. One statement.

    Raises:
        PaintedAreaMissingError: names what is missing.
    """
    ids = [item.id for item in items]
    rows = list(
        Item.objects.filter(pk__in=ids).values_list(
            "pk", "code", "model__code", "model__painted_area_mm2"
        )
    )
    missing = [{"item": code, "model": model} for _, code, model, area in rows if area is None]
    if missing:
        raise PaintedAreaMissingError(
            "Paint cannot be scaled: enter the painted area of the model, or copy without scaling.",
            missing=missing,
        )
    return {pk: area for pk, _, _, area in rows if area is not None}


def _replaced(lines: tuple[SheetLine, ...], codes: Mapping[str, str]) -> tuple[SheetLine, ...]:
    on_bill = {line.item.code for line in lines}
    on_bill |= {other.item.code for line in lines for other in line.alternatives}
    if unknown := sorted(codes.keys() - on_bill):
        raise NotOnBillError(
            "These items are not on the bill, so nothing can stand for them.", items=unknown
        )
    items = sheet_items(codes.values())
    return tuple(
        replace(
            line,
            item=_stand_in(line.item, codes, items),
            alternatives=tuple(
                replace(other, item=_stand_in(other.item, codes, items))
                for other in line.alternatives
            ),
        )
        for line in lines
    )


def _stand_in(
    item: SheetItem, codes: Mapping[str, str], items: Mapping[str, SheetItem]
) -> SheetItem:
    if item.code not in codes:
        return item
    new = items[codes[item.code]]
    if new.dimension != item.dimension:
        raise DimensionMismatchError(
            "What stands for an item is measured like it: the amounts are carried over.",
            item=item.code,
            replaced_by=new.code,
            dimension=item.dimension,
            other=new.dimension,
        )
    return new
