"""One item's requirements: its weeks, who needs it, what comes, and why in words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from batches.planning.rules.requirements import net_base, projected_base
from batches.planning.rules.weeks import monday_of
from batches.planning.selectors.actions import Acting
from batches.planning.selectors.leads import Lead
from batches.planning.selectors.pegs import RootPeg, pegged
from batches.planning.selectors.planning import Planning, planning
from batches.planning.selectors.rows import RequirementRow, Totals, row_of
from batches.planning.selectors.sizing import ItemSizing
from batches.planning.selectors.words import why
from inventory.catalog.models import Item
from inventory.catalog.selectors import item as item_named
from shopfloor.errors import NotFoundError


class WeekRow(NamedTuple):
    """A week of an item; base units.

    Attributes:
        net_base: Of what is needed, what nothing on hand or open covers.
        planned_base: What must come this week besides what is open.
        released_base: What is ordered or begun this week.
        spoiled_base: What may not be used any more from this week on.
        projected_base: Usable at its end if all comes as it shall; below zero: short.
    """

    item: Item
    week_on: date
    gross_base: int
    coming_base: int
    net_base: int
    planned_base: int
    released_base: int
    spoiled_base: int
    projected_base: int


class TakerRow(NamedTuple):
    """What takes the item in a week: a plan, an order, a batch, or what is to be made of it."""

    item: Item
    week_on: date
    kind: str
    code: str
    qty_base: int


class PegRow(NamedTuple):
    """For whom in the end: a line of a plan or order; for stock where `kind` is "stock"."""

    item: Item
    week_on: date
    kind: str
    code: str
    line: int | None
    wanted_item: str | None
    customer: str | None
    due_on: date | None
    qty_base: int


class ComingRow(NamedTuple):
    """An open order or batch that gives the item."""

    item: Item
    kind: str
    code: str
    due_on: date
    qty_base: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RequirementPage:
    """One item with all its requirements rest on; takers and pegs add up to each week's gross."""

    row: RequirementRow
    weeks: list[WeekRow]
    takers: list[TakerRow]
    pegs: list[PegRow]
    coming: list[ComingRow]
    lead: Lead
    sizing: ItemSizing
    why: list[str]


def requirement_page(*, code: str, now: datetime, weeks: int) -> RequirementPage:
    """One item; statements as `planning`, and one.

    Args:
        code: Of the item.
        now: The moment.
        weeks: How many are shown.

    Raises:
        NotFoundError: no such item, or no bill, plan, order or batch has to do with it.
    """
    item = item_named(code)
    planned = planning(now=now)
    place = planned.places.get(item.pk)
    if place is None:
        raise NotFoundError(
            "No bill, plan, order or batch has to do with this item, so nothing is needed of it.",
            item=item.code,
        )
    item = planned.items[place]
    acting = Acting(planned)
    row = row_of(planned, acting, Totals(planned), place)
    for_whom = pegged(planned, place)
    mondays = [monday_of(week, first_on=planned.first_on) for week in range(weeks)]
    return RequirementPage(
        row=row,
        weeks=_weeks(planned, place, mondays),
        takers=[
            TakerRow(item, mondays[each.week], each.kind, each.code, each.qty_base)
            for each in for_whom.takers
            if each.week < weeks
        ],
        pegs=[
            _peg_row(planned, item, mondays[each.week], each)
            for each in for_whom.pegs
            if each.week < weeks
        ],
        coming=[
            ComingRow(
                item, "batch" if each.batch else "order", each.code, each.due_on, each.qty_base
            )
            for each in acting.coming.get(place, ())
        ],
        lead=planned.leads[place],
        sizing=planned.sizings[place],
        why=why(planned, place, row),
    )


def _peg_row(planned: Planning, item: Item, week_on: date, peg: RootPeg) -> PegRow:
    root = peg.root
    if root is None:
        return PegRow(item, week_on, "stock", "", None, None, None, None, peg.qty_base)
    return PegRow(
        item=item,
        week_on=week_on,
        kind=root.kind,
        code=root.code,
        line=root.line or None,
        wanted_item=planned.items[planned.places[root.item_id]].code,
        customer=root.customer or None,
        due_on=root.due_on,
        qty_base=peg.qty_base,
    )


def _weeks(planned: Planning, place: int, mondays: list[date]) -> list[WeekRow]:
    found = planned.found
    spoiled = found.spoiled_base[place].tolist()
    columns = (
        found.gross_base[place].tolist(),
        planned.inputs.receipts_base[place].tolist(),
        net_base(planned.inputs, found, [place])[0].tolist(),
        found.planned_base[place].tolist(),
        found.released_base[place].tolist(),
        [now - before for before, now in zip([0, *spoiled], spoiled, strict=False)],
        projected_base(planned.inputs, found, [place])[0].tolist(),
    )
    item = planned.items[place]
    return [
        WeekRow(item, monday, *(column[week] for column in columns))
        for week, monday in enumerate(mondays)
    ]
