"""What customers found of the pieces of some entries: which left, and which were complained of."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import NamedTuple

from batches.packing.models import ShipmentLine
from batches.packing.selectors import StandingComplaint, came_back_for, standing_complaints
from batches.runs.models import Entry, ScrapReason
from batches.trace.rules.customers import Count, Left, Shares, Told, counts_of, shares_onward
from batches.trace.rules.flows import flows_of
from inventory.stock.models import Lot, Movement
from inventory.stock.selectors.among import Among
from inventory.stock.selectors.lineage import Direction, flow_rows, is_standing, reached_ids
from shopfloor.days import day_end, shop_day


class Customers(NamedTuple):
    """What they found.

    Attributes:
        counts: By id of the entry.
        untold: Pieces complained of that may be of these entries, and nobody can say whether.
    """

    counts: Mapping[int, Count]
    untold: int


def found_by_customers(
    reason: ScrapReason,
    entry_ids: Sequence[int],
    *,
    stage: str,
    first_on: date,
    on: date,
    is_alone: bool,
) -> Customers:
    """What was known on a day. At most fourteen statements; one where nobody complained.

    Args:
        reason: The defect.
        entry_ids: Entries of a stage.
        stage: Its code.
        first_on: The first day of these entries.
        on: What left and was told until then counts.
        is_alone: Nothing else was tested, so that nobody complained is an answer too.
    """
    complaints = standing_complaints(first_on=first_on, last_on=on, defect=reason.code)
    if not complaints and not is_alone:
        return Customers({}, 0)
    shares_of = _shares(entry_ids, stage)
    lines = (
        ShipmentLine.objects.filter(
            Among("lot", shares_of),
            is_standing("shipment__posting"),
            shipment__posting__at__lte=day_end(on),
        )
        .order_by()
        .values_list("lot_id", "qty_base", "shipment__posting__at")
    )
    left = (Left(lot_id, pieces, (on - shop_day(at)).days) for lot_id, pieces, at in lines)
    told: list[Told] = []
    untold = 0
    for each, back in _with_returns(complaints):
        rest = max(0, each.pieces - sum(back.values()))
        if back:
            told.append(Told(1 - rest / each.pieces, back))
        if rest and each.is_narrow and each.lots:
            told.append(Told(rest / each.pieces, {row.lot_id: row.pieces for row in each.lots}))
        if not each.is_narrow and not shares_of.keys().isdisjoint(each.lot_ids):
            untold += rest
    return Customers(counts_of(left, told, shares_of), untold)


def _with_returns(
    complaints: Sequence[StandingComplaint],
) -> Iterator[tuple[StandingComplaint, Mapping[int, int]]]:
    """Complaints with the pieces that came back for each, by lot: it is of those. One statement."""
    came_back = came_back_for([each.code for each in complaints])
    for each in complaints:
        yield each, came_back.get(each.code, {})


def _shares(entry_ids: Sequence[int], stage: str) -> dict[int, Shares]:
    """Of every lot that these entries made, or that it flowed into. Five statements."""
    made = Movement.objects.filter(Among("posting", entry_ids), qty_base__gt=0)
    begun: dict[int, Shares] = {
        lot_id: {entry_id: 1.0} for lot_id, entry_id in made.values_list("lot_id", "posting_id")
    }
    reached = reached_ids(begun, Direction.DOWNSTREAM)
    flows = flows_of(flow_rows(reached, Direction.DOWNSTREAM))
    again = Entry.objects.filter(
        Among("posting", [flow.posting_id for flow in flows]), batch__stage__code=stage
    )
    lots = reached.union(*(flow.taken for flow in flows))
    item_of = dict(Lot.objects.filter(Among("pk", lots)).order_by().values_list("pk", "item_id"))
    return shares_onward(flows, begun, item_of, set(again.values_list("posting_id", flat=True)))
