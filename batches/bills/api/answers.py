"""What the doors of bills answer, out of the selectors' rows."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from batches.bills.api.shapes import BillComparisonOut, BillOut, CostOut, WhereUsedOut
from batches.bills.selectors.amounts import one_base, one_of, per_amount, shown_amount
from batches.bills.selectors.bills import BillDetail, Comparison
from batches.bills.selectors.costs import CostLine, CostSheet
from batches.bills.selectors.graph import DirectUse, Use, WhereUsed
from batches.bills.selectors.sheets import BillSheet, SheetItem, SheetLine

Json = dict[str, Any]


def bill_json(detail: BillDetail) -> Json:
    """A bill and one of its revisions."""
    sheet = detail.sheet
    answer = {
        "item": sheet.item,
        "stage": sheet.stage_code,
        "is_mixing": sheet.stage_is_mixing,
        "revision": sheet.number,
        "state": sheet.state,
        "scrap_ratio": sheet.scrap_ratio,
        "note": sheet.note,
        "lines": [_line(line, sheet) for line in sheet.lines],
        "revisions": detail.revisions,
    }
    return dict(BillOut(answer).data)


def comparison_json(found: Comparison) -> Json:
    """What two revisions have differently."""
    before, after = found.before, found.after
    answer = {
        "item": after.item,
        "a": before.number,
        "b": after.number,
        "scrap_ratio_a": before.scrap_ratio,
        "scrap_ratio_b": after.scrap_ratio,
        "added": [_line(line, after) for line in found.added],
        "dropped": [_line(line, before) for line in found.dropped],
        "changed": [
            {"before": _line(each.before, before), "after": _line(each.after, after)}
            for each in found.changed
        ],
    }
    return dict(BillComparisonOut(answer).data)


def where_used_json(found: WhereUsed) -> Json:
    """All that an item goes into."""
    answer = {"item": found.item, "uses": [_use(use, found.item) for use in found.uses]}
    return dict(WhereUsedOut(answer).data)


def cost_json(found: CostSheet) -> Json:
    """The cost sheet."""
    one = one_base(found.item)
    answer = {
        "item": found.item,
        "revision": None if found.sheet is None else found.sheet.number,
        "batch": found.batch,
        "makes": one_of(found.item),
        "cost": None if found.micro_per_base is None else found.micro_per_base * one,
        "source": found.source,
        "unknown": found.unknown,
        "lines": [_cost_line(line, found.item) for line in found.lines],
    }
    return dict(CostOut(answer).data)


def _line(line: SheetLine, sheet: BillSheet) -> Json:
    return {
        "item": line.item,
        "role": line.role,
        **_per_piece(line.per_piece_base, line.item, sheet),
        "per_batch": shown_amount(line.per_batch_base, line.item),
        "loss_ratio": line.loss_ratio,
        "value_ratio": line.value_ratio,
        "alternatives": line.alternatives,
    }


def _per_piece(per_piece_base: Decimal, item: SheetItem, sheet: BillSheet) -> Mapping[str, Any]:
    if sheet.stage_is_mixing:
        takes = per_amount(per_piece_base, item=item, made=sheet.item)
        return {"per_piece": None, "per_amount": takes}
    return {"per_piece": shown_amount(per_piece_base, item), "per_amount": None}


def _use(use: Use, item: SheetItem) -> Json:
    made = use.sheet.item
    return {
        "item": made,
        "stage": use.sheet.stage_code,
        "revision": use.sheet.number,
        "level": use.level,
        "need": per_amount(use.need_base, item=item, made=made),
        "need_at_most": per_amount(use.need_base_max, item=item, made=made),
        "direct": [_direct(line, item, use.sheet) for line in use.direct],
        "through": use.through,
    }


def _direct(line: DirectUse, item: SheetItem, sheet: BillSheet) -> Json:
    return {
        **_per_piece(line.per_piece_base, item, sheet),
        "per_batch": shown_amount(line.per_batch_base, item),
        "loss_ratio": line.loss_ratio,
        "stands_for": line.stands_for,
        "largest_ratio": line.largest_ratio,
    }


def _cost_line(line: CostLine, made: SheetItem) -> Json:
    one = one_base(made)
    unit_cost = None
    if line.micro_per_base is not None:
        value = line.micro_per_base * one_base(line.item)
        unit_cost = {"value": value, "per": one_of(line.item)}
    return {
        "level": line.level,
        "item": line.item,
        "need": shown_amount(line.need_base * one, line.item),
        "unit_cost": unit_cost,
        "cost": None if line.micro is None else line.micro * one,
        "source": line.source,
    }
