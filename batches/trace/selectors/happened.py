"""What happened to the lots of a trace, as the events of an EPCIS document need it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import groupby
from operator import attrgetter
from typing import Final, NamedTuple

from django.db.models import Q

from batches.packing.models import Box
from batches.trace.errors import NothingToTraceError
from batches.trace.rules.flows import Flow
from batches.trace.rules.happenings import (
    Amount,
    Begun,
    Boxed,
    BoxName,
    Corrected,
    Disposed,
    Happened,
    Held,
    Judged,
    Made,
    Received,
    Returned,
    Sent,
    SentBack,
    Stacked,
)
from batches.trace.selectors.traces import Question, start_of
from batches.trace.selectors.walking import Node, Walk, walk
from batches.trace.selectors.whereabouts import Shipped, receipt_sides, shipped_lots
from inventory.catalog.models import Item
from inventory.stock.models import (
    OPENING,
    Disposition,
    EventKind,
    HeldLot,
    LotEvent,
    Movement,
    PostingKind,
)
from inventory.stock.selectors.among import Among, AmongCodes
from inventory.stock.selectors.lineage import Direction, is_standing
from shopfloor.codes.alphabet import Prefix, encode
from shopfloor.snapshot import snapshot

CHANGING: Final = (
    PostingKind.RETURNED,
    PostingKind.DISPOSED,
    PostingKind.COUNTED,
    PostingKind.ADJUSTED,
)


class BoxRow(NamedTuple):
    """A box, when it was packed, and the box it stands in."""

    name: BoxName
    packed_at: datetime
    parent: BoxName | None


class Change(NamedTuple):
    """One side of a posting of `CHANGING`."""

    is_in: bool
    posting_id: int
    kind: str
    at: datetime
    document_kind: str
    document_code: str
    shipment_id: int | None
    customer: str

    def told(self, lots: Sequence[Amount]) -> Happened:
        """As an event of these lots."""
        code, at = encode(self.posting_id, Prefix.POSTING), self.at
        if self.shipment_id is not None:
            shipment = encode(self.shipment_id, Prefix.SHIPMENT)
            return Returned(code=code, at=at, shipment=shipment, customer=self.customer, lots=lots)
        if self.kind == PostingKind.RETURNED:
            return SentBack(code=code, at=at, supplier=self.document_code, lots=lots)
        if self.document_kind == OPENING:
            return Begun(code=code, at=at, lots=lots)
        if self.kind == PostingKind.DISPOSED:
            return Disposed(code=code, at=at, lots=lots)
        is_counted = self.kind == PostingKind.COUNTED
        return Corrected(code=code, at=at, lots=lots, is_more=self.is_in, is_counted=is_counted)


class Hold(NamedTuple):
    """That a hold stopped a lot."""

    hold_id: int
    lot_id: int
    at: datetime
    over_at: datetime | None
    before: str

    def stands(self, at: datetime) -> bool:
        """Whether it stops the lot just after a moment."""
        return self.at <= at and (self.over_at is None or self.over_at > at)


@snapshot()
def happened(question: Question, direction: Direction) -> list[Happened]:
    """What happened to the lots of a trace, in no order.

    Seven statements more than its start and its walk.

    Raises:
        NothingToTraceError: none of these.
        NotFoundError, CodeTypoError, WrongKindOfCodeError, TraceTooLargeError: as for any trace.
    """
    start = start_of(question, upstream=direction is Direction.UPSTREAM)
    found = walk(start, direction, depth_max=question.depth, item_code=question.item)
    shipped = shipped_lots(found.nodes)
    codes = {node.box for node in found.nodes.values()} | {line.box for line in shipped}
    boxes = _boxes(code for code in codes if code is not None)
    told = _Teller(found, _gtins(found.nodes.values()))
    events: list[Happened] = [
        *told.received(),
        *told.made(),
        *told.boxed(shipped, boxes),
        *told.sent(shipped, boxes),
        *told.stacked(shipped, boxes),
        *told.changed(),
        *told.judged(),
    ]
    if not events:
        raise NothingToTraceError(
            "Nothing happened to this lot that an EPCIS document tells. Take the trace as JSON.",
            **{start.row.kind: start.row.code},
        )
    return events


def _gtins(nodes: Iterable[Node]) -> dict[str, str]:
    """By item. One statement."""
    items = Item.objects.filter(AmongCodes("code", {node.item for node in nodes}))
    return dict(items.values_list("code", "gtin"))


def _boxes(codes: Iterable[str]) -> dict[str, BoxRow]:
    """By code. One statement."""
    rows = Box.objects.filter(AmongCodes("code", codes)).order_by()
    columns = ("code", "sscc_row__sscc", "packed_at", "parent__code", "parent__sscc_row__sscc")
    return {
        code: BoxRow(
            BoxName(code, sscc or ""), packed_at, BoxName(parent, outer or "") if parent else None
        )
        for code, sscc, packed_at, parent, outer in rows.values_list(*columns)
    }


class _Teller:
    def __init__(self, found: Walk, gtins: Mapping[str, str]) -> None:
        self.found, self.gtins = found, gtins

    def amount(self, lot_id: int, qty_base: int) -> Amount:
        node = self.found.nodes[lot_id]
        return Amount(node.code, self.gtins[node.item], node.unit.dimension, qty_base)

    def amounts(self, side: Mapping[int, int]) -> list[Amount]:
        """Those of the lots that are in the answer."""
        return [
            self.amount(lot_id, qty_base)
            for lot_id, qty_base in side.items()
            if lot_id in self.found.nodes
        ]

    def received(self) -> Iterator[Received]:
        """One statement."""
        by_receipt = defaultdict(list)
        for line in receipt_sides(self.found.nodes):
            by_receipt[line.receipt_id].append(line)
        for receipt_id, lines in by_receipt.items():
            yield Received(
                code=encode(receipt_id, Prefix.RECEIPT),
                at=lines[0].at,
                supplier=lines[0].supplier,
                order=lines[0].order or lines[0].line_order,
                lots=[self.amount(line.lot_id, line.qty_base) for line in lines],
            )

    def made(self) -> Iterator[Made]:
        for flow in self.found.flows:
            event = self.found.events[flow.posting_id]
            taken = self.amounts(flow.taken)
            if taken:
                yield Made(
                    code=event.code,
                    at=event.at,
                    batch=event.run and event.run.batch,
                    taken=taken,
                    made=self.amounts(flow.made),
                )

    def boxed(self, shipped: Iterable[Shipped], boxes: Mapping[str, BoxRow]) -> Iterator[Boxed]:
        """Put in: when the lot came to be by a move, else when its box was packed; and taken out.

        A lot that came back stands elsewhere, but it was in the box it left in.
        """
        nodes = self.found.nodes
        held: dict[tuple[int, str], int] = defaultdict(int)
        for node in nodes.values():
            if node.box is not None and node.on_hand_base:
                held[node.id, node.box] += node.on_hand_base
        for line in shipped:
            if line.box is not None:
                held[line.lot_id, line.box] += line.qty_base
        moved = {
            lot_id: flow
            for flow in self.found.flows
            if self.found.events[flow.posting_id].kind == PostingKind.MOVED
            for lot_id in flow.made
            if lot_id in nodes
        }
        parts = {
            change.lot_id
            for change in self.found.changes
            if change.kind == PostingKind.MOVED and change.came_in_base
        }
        for (lot_id, box), left_base in sorted(held.items()):
            name, packed_at, _ = boxes[box]
            event = self.found.events[moved[lot_id].posting_id] if lot_id in moved else None
            put_in = self.found.whole_of[lot_id] if lot_id in parts else left_base
            yield Boxed(
                code=nodes[lot_id].code,
                at=packed_at if event is None else event.at,
                box=name,
                lots=[self.amount(lot_id, put_in)],
            )
        yield from self._taken_out(dict(held.keys()), moved, boxes)

    def _taken_out(
        self,
        box_of: Mapping[int, str],
        moved: Mapping[int, Flow],
        boxes: Mapping[str, BoxRow],
    ) -> Iterator[Boxed]:
        for lot_id, flow in moved.items():
            event = self.found.events[flow.posting_id]
            for taken_id, qty_base in flow.taken.items():
                box = box_of.get(taken_id)
                if box is not None and box_of.get(lot_id) != box:
                    yield Boxed(
                        code=event.code,
                        at=event.at,
                        box=boxes[box].name,
                        lots=[self.amount(taken_id, qty_base)],
                        is_out=True,
                    )

    def sent(self, shipped: Sequence[Shipped], boxes: Mapping[str, BoxRow]) -> Iterator[Sent]:
        by_shipment: dict[int, list[Shipped]] = defaultdict(list)
        for line in shipped:
            by_shipment[line.shipment_id].append(line)
        for shipment_id, lines in by_shipment.items():
            yield Sent(
                code=encode(shipment_id, Prefix.SHIPMENT),
                at=lines[0].at,
                customer=lines[0].customer,
                boxes=[boxes[code].name for code in sorted({row.box for row in lines if row.box})],
                lots=[self.amount(row.lot_id, row.qty_base) for row in lines if row.box is None],
            )

    def stacked(self, shipped: Iterable[Shipped], boxes: Mapping[str, BoxRow]) -> Iterator[Stacked]:
        """Boxes that left in another one; when they were put there is not kept."""
        inner: dict[tuple[int, BoxName], set[BoxName]] = defaultdict(set)
        left_at = {}
        for line in shipped:
            row = None if line.box is None else boxes[line.box]
            if row is not None and row.parent is not None:
                inner[line.shipment_id, row.parent].add(row.name)
                left_at[line.shipment_id] = line.at
        for (shipment_id, outer), names in inner.items():
            yield Stacked(
                code=encode(shipment_id, Prefix.SHIPMENT),
                at=left_at[shipment_id],
                box=outer,
                boxes=sorted(names),
            )

    def changed(self) -> Iterator[Happened]:
        """What went or came back, was thrown away, corrected or there at first. One statement."""
        movements = Movement.objects.filter(
            Among("lot_id", self.found.nodes), is_standing("posting"), posting__kind__in=CHANGING
        ).order_by("posting_id", "lot_id")
        back = "posting__customer_return__shipment"
        columns = (
            *("posting__kind", "posting__at", "posting__document_kind", "posting__document_code"),
            *(f"{back}_id", f"{back}__customer__code"),
        )
        lots: dict[Change, list[Amount]] = defaultdict(list)
        for lot_id, qty_base, *posting in movements.values_list(
            "lot_id", "qty_base", "posting_id", *columns
        ):
            if qty_base:  # else its value alone
                lots[Change(qty_base > 0, *posting)].append(self.amount(lot_id, abs(qty_base)))
        for change, its in lots.items():
            yield change.told(its)

    def judged(self) -> Iterator[Held | Judged]:
        """Rejections, what was released after all, and holds. Two statements."""
        events = LotEvent.objects.filter(
            Among("lot_id", self.found.nodes),
            Q(before=Disposition.REJECTED) | Q(after=Disposition.REJECTED),
            kind=EventKind.DISPOSITION,
        ).order_by("pk")
        rejected: dict[int, list[tuple[datetime, bool]]] = defaultdict(list)
        for number, lot_id, at, after in events.values_list("pk", "lot_id", "at", "after"):
            is_rejected = after == Disposition.REJECTED
            rejected[lot_id].append((at, is_rejected))
            yield Judged(number=number, at=at, lot=self.amount(lot_id, 1), is_rejected=is_rejected)
        yield from self._held(rejected)

    def _held(self, rejected: Mapping[int, Sequence[tuple[datetime, bool]]]) -> Iterator[Held]:
        """Holds, and their ends for lots that could be used from then on.

        Args:
            rejected: When lots were, or no longer, by time.
        """
        rows = HeldLot.objects.filter(Among("lot_id", self.found.nodes)).order_by(
            "hold_id", "lot_id"
        )
        columns = ("hold_id", "lot_id", "hold__at", "hold__release__at", "before")
        holds = [Hold(*row) for row in rows.values_list(*columns)]
        of_lot = defaultdict(list)
        for hold in holds:
            of_lot[hold.lot_id].append(hold)
        for hold_id, same in groupby(holds, key=attrgetter("hold_id")):
            stopped = list(same)
            code, over_at = encode(hold_id, Prefix.HOLD), stopped[0].over_at
            lots = [self.amount(hold.lot_id, 1) for hold in stopped]
            yield Held(code=code, at=stopped[0].at, lots=lots)
            if over_at is None:
                continue
            free = [
                lot
                for lot, hold in zip(lots, stopped, strict=True)
                if _is_free(of_lot[hold.lot_id], over_at)
                and not any([is_so for at, is_so in rejected[hold.lot_id] if at <= over_at][-1:])
            ]
            if free:
                yield Held(code=code, at=over_at, lots=free, is_over=True)


def _is_free(holds: Sequence[Hold], at: datetime) -> bool:
    """Whether none of a lot's holds stops it just after a moment, nor what it was before them."""
    if any(hold.stands(at) for hold in holds):
        return False
    before = [hold.before for hold in holds if hold.at <= at and hold.before != Disposition.HELD]
    return before[-1:] == [Disposition.RELEASED]
