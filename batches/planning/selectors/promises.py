"""What customers were promised, and whether it stands on the shelf, is being made, or is to be."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from batches.planning.rules.pegging import Peg
from batches.planning.rules.weeks import monday_of
from batches.planning.selectors.pegs import COMING, ON_HAND, Pegging
from batches.planning.selectors.planning import Planning, planning
from batches.planning.selectors.wanted import Root
from inventory.catalog.models import Item


@dataclass(slots=True, kw_only=True)
class PromiseRow:
    """A line of a customer's order that waits; pieces.

    The order promised first is served first.

    Attributes:
        reserved_base: Of what is on hand.
        coming_base: Of open batches and supplier orders.
        coming_on: The day the last of it is expected.
        planned_base: Of what must be made or ordered yet.
        begin_on: The Monday by which the first of that is begun or ordered.
        is_late: Its day is past, or what comes or is to be begun cannot be in time.
    """

    root: Root
    item: Item
    waiting_base: int
    reserved_base: int = 0
    coming_base: int = 0
    coming_on: date | None = None
    planned_base: int = 0
    begin_on: date | None = None
    is_late: bool = False


def promise_rows(*, now: datetime) -> list[PromiseRow]:
    """Every line that waits, the earliest promised first. Statements as `planning`."""
    planned = planning(now=now)
    rows = {
        number: PromiseRow(
            root=asked.root,
            item=planned.items[planned.places[asked.item_id]],
            waiting_base=asked.qty_base,
            is_late=asked.root.due_on is not None and asked.root.due_on < planned.on,
        )
        for number, asked in enumerate(planned.wanted)
        if asked.root.kind == "order"
    }
    pegging = Pegging(planned)
    for place in sorted({planned.places[row.root.item_id] for row in rows.values()}):
        for (kind, number), pegs in pegging.covers(place).items():
            for row, pieces in _rows_of(pegs, rows):
                _serve(planned, place, row, kind, number, pieces)
    return list(rows.values())


def _rows_of(pegs: Iterable[Peg], rows: dict[int, PromiseRow]) -> Iterable[tuple[PromiseRow, int]]:
    return ((rows[peg.root], peg.qty_base) for peg in pegs if peg.root in rows)


def _serve(
    planned: Planning, place: int, row: PromiseRow, kind: str, number: int, pieces: int
) -> None:
    """Note that a supply serves a line."""
    if kind == ON_HAND:
        row.reserved_base += pieces
        return
    if kind == COMING:
        due_on = max(planned.coming[number].due_on, planned.on)
        row.coming_base += pieces
        row.coming_on = max(row.coming_on or due_on, due_on)
        row.is_late |= row.root.due_on is not None and due_on > row.root.due_on
        return
    row.planned_base += pieces
    begin_on = monday_of(number - planned.leads[place].weeks, first_on=planned.first_on)
    row.begin_on = min(row.begin_on or begin_on, begin_on)
    row.is_late |= begin_on < planned.first_on
