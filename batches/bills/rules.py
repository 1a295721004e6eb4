"""Arithmetic of bills of materials: needs, levels, circles, cost, difference, scaling.

Items are known by their codes. Ratios and per-piece amounts are `Decimal`, everything between is a
`Fraction`, so that only the last step rounds. What a "piece" is of a mixture is its base unit.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Final, Generic, NamedTuple, TypeVar

from shopfloor.errors import InvalidInputError

K = TypeVar("K")
V = TypeVar("V")

PER_PIECE_DECIMALS: Final = 9
"""Decimal places kept of an amount a piece."""

ITS_BILL: Final = "its bill"
UNKNOWN: Final = "unknown"


@dataclass(frozen=True, kw_only=True, slots=True)
class LineFigures:
    """What a bill's line takes of one item.

    Attributes:
        per_piece_base: Base units of the item in one piece, >= 0.
        per_batch_base: Base units once a batch (pot loss, purge, cup), >= 0.
        loss_ratio: Share of the material lost on the way, 0 <= loss_ratio < 1; not pieces scrapped.
    """

    item: str
    per_piece_base: Decimal
    per_batch_base: int = 0
    loss_ratio: Decimal = Decimal(0)


@dataclass(frozen=True, kw_only=True, slots=True)
class BillFigures:
    """What one item is made of at its stage.

    Attributes:
        batch_pieces: Good pieces of a usual batch, >= 1: they share what goes once a batch.
        scrap_ratio: Pieces lost per piece started, 0 <= scrap_ratio < 1.
        by_product_ratio: Share of the value that by-products carry off, 0 <= by_product_ratio < 1.
    """

    lines: tuple[LineFigures, ...]
    batch_pieces: int = 1
    scrap_ratio: Decimal = Decimal(0)
    by_product_ratio: Decimal = Decimal(0)


@dataclass(frozen=True, kw_only=True, slots=True)
class UnitCost:
    """Cost of one base unit of an item that has no bill, and where the figure comes from."""

    micro_per_base: Fraction
    source: str


@dataclass(frozen=True, kw_only=True, slots=True)
class CostRow:
    """One line of an indented cost sheet, for one piece of the item on top.

    Attributes:
        level: 1 for what the top item itself takes, 2 for what that is made of, and so on.
        need_base: Base units for one good piece on top, all losses and scrap above it included.
        micro_per_base: None when the cost of the item, or of anything in it, is not known.
        source: Where the cost of a unit comes from: `ITS_BILL`, the caller's word, or `UNKNOWN`.
    """

    level: int
    item: str
    need_base: Fraction
    micro_per_base: Fraction | None
    source: str

    @property
    def micro(self) -> Fraction | None:
        """Cost of this row, what it is made of included; None when not known."""
        return None if self.micro_per_base is None else self.need_base * self.micro_per_base


@dataclass(frozen=True, kw_only=True, slots=True)
class RolledUpCost:
    """Material cost of one good piece.

    Attributes:
        micro_per_piece: Exact; None when the cost of any item in it is not known.
        rows: Depth first, each row above what it is made of.
        unknown: Items without bill or unit cost, in code order.
    """

    micro_per_piece: Fraction | None
    rows: tuple[CostRow, ...]
    unknown: tuple[str, ...]


class Difference(NamedTuple, Generic[K, V]):
    """Lines that only the later bill has, that only the earlier has, and that differ."""

    added: dict[K, V]
    dropped: dict[K, V]
    changed: dict[K, tuple[V, V]]


@lru_cache(maxsize=4096)  # a recall asks thousands of times for a few
def line_need_base(
    *,
    per_piece_base: Decimal,
    pieces: int,
    per_batch_base: int,
    loss_ratio: Decimal,
    first_entry: bool,
) -> int:
    """Base units of a bill's line that an entry takes, rounded up: one short cannot be finished.

    Per piece x pieces / (1 - loss), and the amount per batch once, at the batch's first entry. The
    loss is of material a piece: it leaves the amount per batch alone. Common practice, no source.

    Args:
        per_piece_base: Base units in one piece, >= 0.
        pieces: Pieces worked on, good and scrapped, >= 0.
        per_batch_base: Base units once a batch, >= 0.
        loss_ratio: Share of the material lost, 0 <= loss_ratio < 1.
        first_entry: Whether this is the first entry of its batch.

    Raises:
        InvalidInputError: loss_ratio is outside its range.
    """
    assert per_piece_base >= 0
    assert pieces >= 0
    assert per_batch_base >= 0
    taken = Fraction(per_piece_base) * pieces / _kept(loss_ratio, what="loss")
    return math.ceil(taken) + (per_batch_base if first_entry else 0)


def share_base_max(*, whole_base: int, largest_ratio: Decimal) -> int:
    """Most of a whole that an alternative may be (regrind), rounded down: one over is too much."""
    return math.floor(whole_base * Fraction(largest_ratio))


def items_over_share(
    *, whole_base: int, taken_base: Mapping[str, int], largest_ratio: Mapping[str, Decimal]
) -> tuple[str, ...]:
    """Alternatives taken beyond their largest share of the whole, in the order taken.

    Args:
        whole_base: The line's need, or all that was taken for it.
        taken_base: Base units taken, by item.
        largest_ratio: Largest share, 0 to 1, by item; an item without one has no limit.
    """
    return tuple(
        item
        for item, base in taken_base.items()
        if item in largest_ratio
        and base > share_base_max(whole_base=whole_base, largest_ratio=largest_ratio[item])
    )


def find_cycle(edges: Mapping[str, Iterable[str]], start: str) -> list[str] | None:
    """A circle that can be reached from `start`, as a path whose last item is its first; or None.

    Args:
        edges: What each item is made of; an item without an entry is made of nothing.
        start: The item whose bill is about to be released.
    """
    path: list[str] = [start]
    on_path, done = {start}, set[str]()
    open_edges: list[Iterator[str]] = [iter(edges.get(start, ()))]
    while path:
        below = next(open_edges[-1], None)
        if below is None:
            open_edges.pop()
            done.add(path[-1])
            on_path.discard(path.pop())
        elif below in on_path:
            return [*path[path.index(below) :], below]
        elif below not in done:
            path.append(below)
            on_path.add(below)
            open_edges.append(iter(edges.get(below, ())))
    return None


def low_level_codes(edges: Mapping[str, Iterable[str]]) -> dict[str, int]:
    """The longest way down to each item from any item on top (0), tops first.

    Going through items in this order meets each one after everything it goes into.

    Args:
        edges: What each item is made of.

    Raises:
        InvalidInputError: the bills go in a circle; the facts name it.

    Source: J. Orlicky, Material Requirements Planning, 1975: low-level coding.
    """
    below = {item: tuple(dict.fromkeys(items)) for item, items in edges.items()}
    waiting = Counter(item for items in below.values() for item in items)
    levels = {item: 0 for item in below if not waiting[item]}
    ready = list(levels)
    while ready:
        item = ready.pop()
        for each in below.get(item, ()):
            levels[each] = max(levels.get(each, 0), levels[item] + 1)
            waiting[each] -= 1
            if not waiting[each]:
                ready.append(each)
    if any(waiting.values()):
        _refuse_circle(below, waiting)
    return dict(sorted(levels.items(), key=lambda pair: pair[1]))


def need_per_good_piece(*, line: LineFigures, bill: BillFigures) -> Fraction:
    """Base units of a line's item behind one good piece: losses, scrap and its part of the batch's.

    Raises:
        InvalidInputError: a loss or scrap ratio is outside its range.
    """
    assert bill.batch_pieces >= 1
    started = 1 / _kept(bill.scrap_ratio, what="scrap")
    per_started = Fraction(line.per_piece_base) / _kept(line.loss_ratio, what="loss")
    return per_started * started + Fraction(line.per_batch_base, bill.batch_pieces)


def needs_below(*, bills: Mapping[str, BillFigures], item: str) -> dict[str, Fraction]:
    """Base units of every item at every level below that one good piece of `item` takes.

    Raises:
        InvalidInputError: the bills go in a circle, or a ratio is outside its range.
    """
    needs: dict[str, Fraction] = {item: Fraction(1)}
    for each in low_level_codes(_edges(bills)):
        bill = bills.get(each)
        if bill is None or each not in needs:
            continue
        for line in bill.lines:
            more = needs[each] * need_per_good_piece(line=line, bill=bill)
            needs[line.item] = needs.get(line.item, Fraction(0)) + more
    del needs[item]
    return needs


def rolled_up_cost(
    *, bills: Mapping[str, BillFigures], unit_costs: Mapping[str, UnitCost], item: str
) -> RolledUpCost:
    """Material cost of one good piece of `item`, level by level; a bill comes before a unit cost.

    Raises:
        InvalidInputError: the bills go in a circle, or a ratio is outside its range.
    """
    costs: dict[str, UnitCost | None] = dict(unit_costs)
    for each in reversed(low_level_codes(_edges(bills))):
        if each in bills:
            costs[each] = _cost_by_bill(bills[each], costs)
    top = costs.get(item)
    rows = tuple(_cost_rows(bills, costs, item))
    bought = {item, *(row.item for row in rows)} - bills.keys()
    return RolledUpCost(
        micro_per_piece=None if top is None else top.micro_per_base,
        rows=rows,
        unknown=tuple(sorted(bought - unit_costs.keys())),
    )


def compare(before: Mapping[K, V], after: Mapping[K, V]) -> Difference[K, V]:
    """What a later bill added, dropped and changed, by whatever names a line, in bill order."""
    return Difference(
        added={key: line for key, line in after.items() if key not in before},
        dropped={key: line for key, line in before.items() if key not in after},
        changed={
            key: (line, after[key])
            for key, line in before.items()
            if key in after and line != after[key]
        },
    )


def scaled_paint(
    per_piece_base: Decimal, from_area_mm2: int | Decimal, to_area_mm2: int | Decimal
) -> Decimal:
    """Paint a piece for another painted area, to the nearest of `PER_PIECE_DECIMALS` places.

    In proportion to area: the same film, the same share of overspray. Common practice, no source.

    Args:
        per_piece_base: Base units a piece on the area known, >= 0.
        from_area_mm2: The area known, > 0.
        to_area_mm2: The other area, >= 0.

    Raises:
        InvalidInputError: an area is outside its range.
    """
    if from_area_mm2 <= 0 or to_area_mm2 < 0:
        raise InvalidInputError(
            "Painted areas must be above zero. Enter both in the models.",
            from_area_mm2=str(from_area_mm2),
            to_area_mm2=str(to_area_mm2),
        )
    scaled = Fraction(per_piece_base) * Fraction(to_area_mm2) / Fraction(from_area_mm2)
    return Decimal(round(scaled * 10**PER_PIECE_DECIMALS)).scaleb(-PER_PIECE_DECIMALS)


def _kept(ratio: Decimal, *, what: str) -> Fraction:
    if not 0 <= ratio < 1:
        raise InvalidInputError(
            f"The share of {what} must be at least 0 and below 1.", ratio=str(ratio)
        )
    return 1 - Fraction(ratio)


def _edges(bills: Mapping[str, BillFigures]) -> dict[str, list[str]]:
    return {item: [line.item for line in bill.lines] for item, bill in bills.items()}


def _refuse_circle(edges: Mapping[str, Iterable[str]], waiting: Mapping[str, int]) -> None:
    # What still waits lies in a circle or below one, so one of them leads around.
    circles = (find_cycle(edges, item) for item, count in waiting.items() if count)
    path = next(circle for circle in circles if circle)
    raise InvalidInputError("The bills go in a circle: change one of them.", path=path)


def _cost_by_bill(bill: BillFigures, costs: Mapping[str, UnitCost | None]) -> UnitCost | None:
    """None when the cost of any line is not known: half a sum would look like a whole one."""
    micro = Fraction(0)
    for line in bill.lines:
        cost = costs.get(line.item)
        if cost is None:
            return None
        micro += need_per_good_piece(line=line, bill=bill) * cost.micro_per_base
    left = _kept(bill.by_product_ratio, what="value that by-products carry off")
    return UnitCost(micro_per_base=micro * left, source=ITS_BILL)


def _cost_rows(
    bills: Mapping[str, BillFigures], costs: Mapping[str, UnitCost | None], item: str
) -> Iterator[CostRow]:
    waiting: list[tuple[int, str, Fraction]] = [(0, item, Fraction(1))]
    while waiting:
        level, each, need = waiting.pop()
        cost = costs.get(each)
        bill = bills.get(each)
        if level:
            yield CostRow(
                level=level,
                item=each,
                need_base=need,
                micro_per_base=cost.micro_per_base if cost else None,
                source=ITS_BILL if bill else cost.source if cost else UNKNOWN,
            )
        for line in reversed(bill.lines if bill else ()):
            below = need * need_per_good_piece(line=line, bill=bills[each])
            waiting.append((level + 1, line.item, below))
