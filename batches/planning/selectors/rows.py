"""One line of the requirements: an item, what is needed of it, and what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from batches.planning.selectors.actions import Acting, Action, week_end
from batches.planning.selectors.planning import EMPTY, Planning, planning
from batches.planning.selectors.yields import GoodShare
from inventory.catalog.models import Item


@dataclass(frozen=True, slots=True, kw_only=True)
class RequirementRow:
    """An item; base units, of all the weeks planned.

    Attributes:
        good: Good pieces a started piece, and who says so; None of what is bought.
        promised_base: What open customer orders wait for.
        free_base: On hand beyond that; below zero: what was promised beyond it.
        wanted_past_base: Promised for a week that is over.
        coming_base: Open supplier orders and batches.
        planned_base: What must be ordered or made besides.
        order_on: The Monday by which the first of it is ordered or begun; it may be past.
        now_base: What of it is for this week, the late included.
    """

    item: Item
    is_made: bool
    good: GoodShare | None
    on_hand_base: int
    quarantined_base: int
    promised_base: int
    free_base: int
    safety_stock_base: int
    wanted_past_base: int
    gross_base: int
    coming_base: int
    planned_base: int
    order_on: date | None
    now_base: int
    late_base: int
    has_action: bool
    acting: Acting
    place: int

    @property
    def yield_mean(self) -> str | None:
        """Good pieces a started piece, as a decimal number."""
        return None if self.good is None else f"{float(self.good.share):.5g}"

    @property
    def yield_source(self) -> str | None:
        """Who says so."""
        return None if self.good is None else self.good.source

    @property
    def yield_runs(self) -> int | None:
        """Runs that it was learned from."""
        return None if self.good is None else self.good.runs

    @property
    def actions(self) -> list[Action]:
        """What to do."""
        return self.acting.of(self.place)


def requirement_rows(*, now: datetime) -> list[RequirementRow]:
    """Every item of which something is needed, comes or is to be done; the most urgent first.

    Statements as `planning`.
    """
    planned = planning(now=now)
    acting = Acting(planned)
    totals = Totals(planned)
    rows = (row_of(planned, acting, totals, place) for place in range(len(planned.items)))
    return sorted((row for row in rows if _matters(row)), key=_urgency)


class Totals:
    """Sums over the weeks, by place. No statement."""

    def __init__(self, planned: Planning) -> None:
        self.gross_base = planned.found.gross_base.sum(axis=1).tolist()
        self.planned_base = planned.found.planned_base.sum(axis=1).tolist()
        self.promised_base: dict[int, int] = {}
        self.past_base: dict[int, int] = {}
        self.coming_base: dict[int, int] = {}
        for asked in planned.wanted:
            place = planned.places[asked.item_id]
            if asked.root.kind == "order":
                _add(self.promised_base, place, asked.qty_base)
            if asked.week < 0:
                _add(self.past_base, place, asked.qty_base)
        for each in planned.coming:
            _add(self.coming_base, planned.places[each.item_id], each.qty_base)


def row_of(planned: Planning, acting: Acting, totals: Totals, place: int) -> RequirementRow:
    """One item's. No statement."""
    item = planned.items[place]
    shelf = planned.shelves.get(item.pk, EMPTY)
    promised_base = totals.promised_base.get(place, 0)
    return RequirementRow(
        item=item,
        is_made=item.pk in planned.bills,
        good=planned.goods.get(item.pk),
        on_hand_base=shelf.usable_base,
        quarantined_base=shelf.quarantined_base,
        promised_base=promised_base,
        free_base=shelf.usable_base - promised_base,
        safety_stock_base=int(planned.inputs.safety_base[place]),
        wanted_past_base=totals.past_base.get(place, 0),
        gross_base=totals.gross_base[place],
        coming_base=totals.coming_base.get(place, 0),
        planned_base=totals.planned_base[place],
        order_on=acting.order_on(place),
        now_base=acting.now_base[place],
        late_base=acting.late_base[place],
        has_action=acting.is_called_for(place),
        acting=acting,
        place=place,
    )


def selected(
    rows: Iterable[RequirementRow],
    *,
    on: date,
    item: str = "",
    kind: str = "",
    is_made: bool | None = None,
    has_action: bool | None = None,
    weeks: int | None = None,
) -> list[RequirementRow]:
    """The lines that fit all that is asked for.

    Args:
        rows: Any.
        on: The Monday of this week.
        item: Its code.
        kind: Of the item.
        is_made: By a current bill, or bought.
        has_action: Something is to be done, or nothing.
        weeks: Something is to be ordered or begun within so many weeks, this one included.
    """
    until = week_end(on, weeks) if weeks else None

    def fits(row: RequirementRow) -> bool:
        return (
            (not item or row.item.code == item)
            and (not kind or row.item.kind == kind)
            and (is_made is None or row.is_made == is_made)
            and (has_action is None or row.has_action == has_action)
            and (until is None or (row.order_on is not None and row.order_on <= until))
        )

    return [row for row in rows if fits(row)]


def _matters(row: RequirementRow) -> bool:
    return bool(row.gross_base or row.coming_base or row.planned_base or row.has_action)


def _urgency(row: RequirementRow) -> tuple[bool, date, bool, str]:
    return (row.order_on is None, row.order_on or date.max, not row.has_action, row.item.code)


def _add(sums: dict[int, int], place: int, qty_base: int) -> None:
    sums[place] = sums.get(place, 0) + qty_base
