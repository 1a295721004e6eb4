"""What customers found of the pieces of some entries: which left, and which were complained of."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date
from typing import Final, NamedTuple

from batches.packing.models import ShipmentLine
from batches.packing.selectors import StandingComplaint, came_back_for, standing_complaints
from batches.runs.models import Entry, ScrapReason
from batches.trace.rules.customers import Count, Left, Shares, Told, counts_of, shares_onward
from batches.trace.rules.flows import flows_of
from inventory.stock.models import Lot, Movement
from inventory.stock.selectors.among import Among
from inventory.stock.selectors.lineage import Direction, flow_rows, is_standing, reached_ids
from shopfloor.days import day_end, shop_day

TOO_WIDE: Final = "it names days alone, so nobody knows which entry made its pieces"
ELSEWHERE: Final = "what it may be of was not made at this stage in these days"


class OneComplaint(NamedTuple):
    """A complaint, and what is known of its pieces.

    Attributes:
        pieces: That have the defect.
        entry_ids: Entries that may have made them.
        left_out: Why it does not count, or not wholly; empty if it does.
    """

    code: str
    pieces: int
    entry_ids: Collection[int]
    left_out: str


class Customers(NamedTuple):
    """What they found.

    Attributes:
        counts: By id of the entry.
        untold: Pieces complained of that may be of these entries, and nobody can say whether.
        complaints: All told of the defect in those days.
    """

    counts: Mapping[int, Count]
    untold: int
    complaints: Sequence[OneComplaint]


def found_by_customers(
    reason: ScrapReason,
    entry_ids: Sequence[int],
    *,
    stage: str,
    first_on: date,
    on: date,
    is_alone: bool,
    only: Collection[str] = (),
) -> Customers:
    """What was known on a day. At most fourteen statements; one where nobody complained.

    Args:
        reason: The defect.
        entry_ids: Entries of a stage.
        stage: Its code.
        first_on: The first day of these entries.
        on: What left and was told until then counts.
        is_alone: Nothing else was tested, so that nobody complained is an answer too.
        only: Codes of the complaints that count; empty: all.
    """
    complaints = standing_complaints(first_on=first_on, last_on=on, defect=reason.code)
    complaints = [each for each in complaints if not only or each.code in only]
    if not complaints and not is_alone:
        return Customers({}, 0, [])
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
    rows = []
    for each, back in _with_returns(complaints):
        mine = []
        rest = max(0, each.pieces - sum(back.values()))
        if back:
            mine.append(Told(1 - rest / each.pieces, back))
        if rest and each.is_narrow and each.lots:
            mine.append(Told(rest / each.pieces, {row.lot_id: row.pieces for row in each.lots}))
        is_untold = not each.is_narrow and not shares_of.keys().isdisjoint(each.lot_ids)
        untold += rest if is_untold else 0
        entries = {entry for part in mine for lot in part.among for entry in shares_of.get(lot, ())}
        why = TOO_WIDE if is_untold and rest else "" if entries else ELSEWHERE
        rows.append(OneComplaint(each.code, each.pieces, entries, why))
        told += mine
    return Customers(counts_of(left, told, shares_of), untold, rows)


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
