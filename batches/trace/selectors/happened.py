"""What happened to the lots of a trace, as the events of an EPCIS document need it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime

from batches.packing.models import Box
from batches.trace.errors import NothingToTraceError
from batches.trace.rules.epcis import Amount, Boxed, BoxName, Made, Received, Sent
from batches.trace.rules.flows import Flow
from batches.trace.selectors.traces import Question, start_of
from batches.trace.selectors.walking import Node, Walk, walk
from batches.trace.selectors.whereabouts import Shipped, receipt_sides, shipped_lots
from inventory.catalog.models import Item
from inventory.stock.models import PostingKind
from inventory.stock.selectors.among import AmongCodes
from inventory.stock.selectors.lineage import Direction
from shopfloor.codes.alphabet import Prefix, encode
from shopfloor.snapshot import snapshot

Happened = Received | Made | Boxed | Sent


@snapshot()
def happened(question: Question, direction: Direction) -> list[Happened]:
    """Deliveries, postings, boxings and shipments of the lots of a trace.

    Four statements more than its start and its walk.

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
    ]
    if not events:
        raise NothingToTraceError(
            "Nothing happened to this lot that an EPCIS document tells: it was not received by a "
            "delivery, made, used, boxed or shipped. Take the trace as JSON.",
            **{start.row.kind: start.row.code},
        )
    return events


def _gtins(nodes: Iterable[Node]) -> dict[str, str]:
    """By item. One statement."""
    items = Item.objects.filter(AmongCodes("code", {node.item for node in nodes}))
    return dict(items.values_list("code", "gtin"))


def _boxes(codes: Iterable[str]) -> dict[str, tuple[BoxName, datetime]]:
    """With the time each was packed. One statement."""
    rows = Box.objects.filter(AmongCodes("code", codes)).order_by()
    return {
        code: (BoxName(code, sscc or ""), packed_at)
        for code, sscc, packed_at in rows.values_list("code", "sscc_row__sscc", "packed_at")
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

    def boxed(
        self, shipped: Iterable[Shipped], boxes: Mapping[str, tuple[BoxName, datetime]]
    ) -> Iterator[Boxed]:
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
            name, packed_at = boxes[box]
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
        boxes: Mapping[str, tuple[BoxName, datetime]],
    ) -> Iterator[Boxed]:
        for lot_id, flow in moved.items():
            event = self.found.events[flow.posting_id]
            for taken_id, qty_base in flow.taken.items():
                box = box_of.get(taken_id)
                if box is not None and box_of.get(lot_id) != box:
                    yield Boxed(
                        code=event.code,
                        at=event.at,
                        box=boxes[box][0],
                        lots=[self.amount(taken_id, qty_base)],
                        is_out=True,
                    )

    def sent(
        self, shipped: Sequence[Shipped], boxes: Mapping[str, tuple[BoxName, datetime]]
    ) -> Iterator[Sent]:
        by_shipment: dict[int, list[Shipped]] = defaultdict(list)
        for line in shipped:
            by_shipment[line.shipment_id].append(line)
        for shipment_id, lines in by_shipment.items():
            yield Sent(
                code=encode(shipment_id, Prefix.SHIPMENT),
                at=lines[0].at,
                customer=lines[0].customer,
                boxes=[boxes[code][0] for code in sorted({row.box for row in lines if row.box})],
                lots=[self.amount(row.lot_id, row.qty_base) for row in lines if row.box is None],
            )
