"""Where an item is used, up through the current revisions of all bills."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from batches.bills.rules import BillFigures, LineFigures, low_level_codes, need_per_good_piece
from batches.bills.selectors.sheets import (
    BillSheet,
    SheetItem,
    SheetLine,
    current_sheets,
    sheet_items,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DirectUse:
    """A line that takes the item itself, or may take it instead of its own.

    Attributes:
        stands_for: The line's own item, when the one asked for is only an alternative.
        largest_ratio: Then the largest share of the line's need, else None.
    """

    per_piece_base: Decimal
    per_batch_base: int
    loss_ratio: Decimal
    stands_for: str | None = None
    largest_ratio: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """An item that the one asked for goes into.

    Attributes:
        sheet: Its current revision.
        level: 1 where a line takes it itself; else the longest way up.
        need_base: Base units of the item asked for behind one good piece, losses and scrap on the
            way included, what goes once a batch left out; 0 where it is only an alternative.
        need_base_max: The same with every alternative at its largest share.
        direct: Lines that take it themselves.
        through: Codes of the items between, one level down.
    """

    sheet: BillSheet
    level: int
    need_base: Fraction
    need_base_max: Fraction
    direct: tuple[DirectUse, ...]
    through: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WhereUsed:
    """All that an item goes into, nearest first."""

    item: SheetItem
    uses: tuple[Use, ...]


class _Behind(NamedTuple):
    """How much of the item asked for stands behind one base unit of another."""

    level: int
    need_base: Fraction
    need_base_max: Fraction


def where_used(item_code: str) -> WhereUsed:
    """All that an item goes into, directly and through others. Two statements.

    Raises:
        NotFoundError: no such item.
    """
    code = item_code.strip().upper()
    item = sheet_items([code])[code]
    sheets = {one.item.code: one for one in current_sheets()}
    behind = {code: _Behind(0, Fraction(1), Fraction(1))}
    uses: list[Use] = []
    for each in reversed(low_level_codes(edges_of(sheets.values()))):
        if each in sheets and (use := _use(sheets[each], code, behind)):
            behind[each] = _Behind(use.level, use.need_base, use.need_base_max)
            uses.append(use)
    return WhereUsed(item, tuple(sorted(uses, key=lambda use: (use.level, use.sheet.item.code))))


def edges_of(sheets: Iterable[BillSheet]) -> dict[str, list[str]]:
    """What each item may be made of, by codes; alternatives included."""
    return {
        one.item.code: [
            code
            for line in one.taken
            for code in (line.item.code, *(other.item.code for other in line.alternatives))
        ]
        for one in sheets
    }


def figures_of(line: SheetLine, *, per_batch_base: int = 0) -> LineFigures:
    """A line as the room's arithmetic takes it; without what goes once a batch unless given."""
    return LineFigures(
        item=line.item.code,
        per_piece_base=line.per_piece_base,
        per_batch_base=per_batch_base,
        loss_ratio=line.loss_ratio,
    )


def _use(one: BillSheet, code: str, behind: Mapping[str, _Behind]) -> Use | None:
    """One bill's use of the item, when everything that it takes is known already."""
    head = BillFigures(lines=(), scrap_ratio=one.scrap_ratio)
    below: set[str] = set()
    need = need_max = Fraction(0)
    for line in one.taken:
        codes = {line.item.code, *(other.item.code for other in line.alternatives)}
        below |= codes & behind.keys()
        per_piece = need_per_good_piece(line=figures_of(line), bill=head)
        own = behind.get(line.item.code)
        need += per_piece * (own.need_base if own else 0)
        need_max += per_piece * _most(line, behind)
    if not below:
        return None
    return Use(
        sheet=one,
        level=1 + max(behind[each].level for each in below),
        need_base=need,
        need_base_max=need_max,
        direct=tuple(_direct(one, code)),
        through=tuple(sorted(below - {code})),
    )


def _most(line: SheetLine, behind: Mapping[str, _Behind]) -> Fraction:
    """Most of the item asked for behind a base unit of the line, whatever is really taken."""
    own = behind.get(line.item.code)
    most = own_most = own.need_base_max if own else Fraction(0)
    left = Fraction(1)
    others = ((behind.get(other.item.code), other.largest_ratio) for other in line.alternatives)
    richer = [(each.need_base_max, ratio) for each, ratio in others if each]
    for need, ratio in sorted(richer, reverse=True):
        share = min(left, Fraction(ratio)) if need > own_most else Fraction(0)
        most += share * (need - own_most)
        left -= share
    return most


def _direct(one: BillSheet, code: str) -> Iterable[DirectUse]:
    for line in one.taken:
        ratios: dict[str, Decimal | None] = {
            other.item.code: other.largest_ratio for other in line.alternatives
        }
        ratios[line.item.code] = None
        if code in ratios:
            yield DirectUse(
                per_piece_base=line.per_piece_base,
                per_batch_base=line.per_batch_base,
                loss_ratio=line.loss_ratio,
                stands_for=None if code == line.item.code else line.item.code,
                largest_ratio=ratios[code],
            )
