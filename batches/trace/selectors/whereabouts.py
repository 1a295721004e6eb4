"""Where traced lots are now, and where bought ones came from."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from django.db.models import OuterRef, Subquery, Sum

from batches.packing.models import ShipmentLine
from batches.runs.models import EntryTally
from batches.trace.rules.shares import Part, together
from batches.trace.selectors.rows import (
    AccountRow,
    BoxAmountRow,
    KindRow,
    OnHandRow,
    ReceiptRow,
    ScrappedRow,
    ShippedRow,
    Unit,
)
from batches.trace.selectors.walking import Node, Run, Walk, part_row
from inventory.purchasing.models import ReceiptLine
from inventory.stock.models import Movement
from inventory.stock.selectors.among import Among
from inventory.stock.selectors.lineage import is_standing
from shopfloor.codes.alphabet import Prefix, encode

Nodes = Mapping[int, Node]


class Shipped(NamedTuple):
    """A traced lot that left and did not come back by a reversal; base units.

    What came back of it since is that of all its lines in the shipment.
    """

    lot_id: int
    shipment_id: int
    at: datetime
    customer: str
    customer_name: str
    address: str
    purpose: str
    box: str | None
    box_state: str | None
    qty_base: int
    returned_base: int


def on_hand_rows(nodes: Nodes) -> list[OnHandRow]:
    """What is still ours, by item, place and disposition. No statement."""
    sums: dict[tuple[str, str, str], list[Node]] = defaultdict(list)
    for node in nodes.values():
        if node.on_hand_base > 0:
            sums[node.item, node.place, node.disposition].append(node)
    return [
        OnHandRow(*key, len(found), found[0].unit.row(sum(node.on_hand_base for node in found)))
        for key, found in sorted(sums.items())
    ]


def shipped_lots(nodes: Nodes) -> list[Shipped]:
    """The lots that left, by shipment. One statement."""
    returned = (
        Movement.objects.filter(
            is_standing("posting_id"),
            lot=OuterRef("lot_id"),
            posting__customer_return__shipment=OuterRef("shipment_id"),
        )
        .order_by()
        .values("lot_id")
        .annotate(base=Sum("qty_base"))
    )
    lines = ShipmentLine.objects.filter(Among("lot_id", nodes), is_standing("shipment_id"))
    rows = lines.order_by().values_list(
        "lot_id",
        "shipment_id",
        "shipment__posting__at",
        "shipment__customer__code",
        "shipment__customer__name",
        "shipment__customer__address",
        "purpose",
        "box__code",
        "box__state",
        "qty_base",
        Subquery(returned.values("base")),
    )
    return sorted(
        (Shipped._make((*row, int(back or 0))) for *row, back in rows),
        key=lambda row: (row.shipment_id, row.lot_id),
    )


def box_rows(nodes: Nodes, shipped: Iterable[Shipped]) -> list[BoxAmountRow]:
    """What stands in boxes, and what left in them. No statement."""
    sums: dict[tuple[str, str, int, str], int] = defaultdict(int)
    for node in nodes.values():
        if node.box is not None and node.box_state is not None and node.on_hand_base > 0:
            sums[node.box, node.box_state, 0, node.item] += node.on_hand_base
    for lot in shipped:
        if lot.box is not None and lot.box_state is not None:
            item = nodes[lot.lot_id].item
            sums[lot.box, lot.box_state, lot.shipment_id, item] += lot.qty_base
    units = _units(nodes)
    return [
        BoxAmountRow(
            box=box,
            state=state,
            shipment=encode(shipment_id, Prefix.SHIPMENT) if shipment_id else None,
            item=item,
            amount=units[item].row(qty_base),
        )
        for (box, state, shipment_id, item), qty_base in sorted(sums.items())
    ]


def shipment_rows(
    nodes: Nodes, shipped: Sequence[Shipped], returned: Mapping[tuple[int, int], int]
) -> list[ShippedRow]:
    """What left, by shipment, item and purpose, oldest shipment first. No statement."""
    groups: dict[tuple[int, str, str], list[Shipped]] = defaultdict(list)
    for lot in shipped:
        groups[lot.shipment_id, nodes[lot.lot_id].item, lot.purpose].append(lot)
    rows = []
    for (shipment_id, item, purpose), lots in groups.items():
        unit = nodes[lots[0].lot_id].unit
        back = sum(returned.get((shipment_id, lot.lot_id), 0) for lot in lots)
        rows.append(
            ShippedRow(
                shipment=encode(shipment_id, Prefix.SHIPMENT),
                at=lots[0].at,
                customer=lots[0].customer,
                customer_name=lots[0].customer_name,
                purpose=purpose,
                item=item,
                boxes=sorted({lot.box for lot in lots if lot.box is not None}),
                amount=unit.row(sum(lot.qty_base for lot in lots)),
                returned=unit.row(back),
            )
        )
    return sorted(rows, key=lambda row: row.at)


def returned_amounts(shipped: Iterable[Shipped]) -> dict[tuple[int, int], int]:
    """Base units that came back, by shipment and lot id. No statement."""
    return {(lot.shipment_id, lot.lot_id): lot.returned_base for lot in shipped}


class Scrapped(NamedTuple):
    """What one batch scrapped for one reason; base units."""

    run: Run
    reason: str
    reason_name: str
    qty_base: int
    part: Part | None


def scrapped_pieces(found: Walk) -> list[Scrapped]:
    """What entries that took traced lots scrapped, by batch and reason. One statement."""
    runs = {event.id: event.run for event in found.events.values() if event.run is not None}
    tallies = EntryTally.objects.filter(Among("entry_id", runs)).order_by()
    sums: dict[tuple[str, str, str], list[tuple[int, Part | None]]] = defaultdict(list)
    run_of = {run.batch: run for run in runs.values()}
    rows = tallies.exclude(scrap_reason=None).values_list(
        "entry_id", "scrap_reason_id", "qty_base", "scrap_reason__code", "scrap_reason__name"
    )
    for entry_id, _, qty_base, reason, name in sorted(rows):
        run = runs[entry_id]
        down = found.down
        part = None if down is None else down.of_scrapped(entry_id, run.item, qty_base)
        sums[run.batch, reason, name].append((qty_base, part))
    return [
        Scrapped(
            run_of[batch],
            reason,
            name,
            sum(qty_base for qty_base, _ in each),
            together(part for _, part in each),
        )
        for (batch, reason, name), each in sums.items()
    ]


def scrapped_rows(scrapped: Iterable[Scrapped]) -> list[ScrappedRow]:
    """The same as the answer shows it. No statement."""
    return [
        ScrappedRow(
            batch=each.run.batch,
            stage=each.run.stage,
            item=each.run.item,
            reason=each.reason,
            reason_name=each.reason_name,
            amount=each.run.unit.row(each.qty_base),
            part=part_row(each.part, each.run.unit),
        )
        for each in scrapped
    ]


def account_rows(found: Walk) -> list[AccountRow]:
    """Every base unit of every item, by kind of posting. No statement."""
    nodes = found.nodes
    sums: dict[str, dict[str, list[int]]] = defaultdict(lambda: defaultdict(lambda: [0, 0]))
    for change in found.changes:
        both = sums[nodes[change.lot_id].item][change.kind]
        both[0] += change.came_in_base
        both[1] += change.went_out_base
    units = _units(nodes)
    return [
        AccountRow(
            item=item,
            changes=[
                KindRow(kind, units[item].row(came_in), units[item].row(went_out))
                for kind, (came_in, went_out) in sorted(kinds.items())
            ],
            on_hand=units[item].row(sum(came_in - out for came_in, out in kinds.values())),
        )
        for item, kinds in sorted(sums.items())
    ]


class ReceiptSide(NamedTuple):
    """A traced lot that a supplier sent; base units."""

    receipt_id: int
    lot_id: int
    at: datetime
    supplier: str
    supplier_name: str
    order: str | None
    line_order: str | None
    delivery_note: str
    qty_base: int


def receipt_sides(nodes: Nodes) -> list[ReceiptSide]:
    """How the lots that were bought came in, oldest receipt first. One statement."""
    lines = ReceiptLine.objects.filter(Among("lot_id", nodes), is_standing("receipt_id"))
    rows = lines.order_by().values_list(
        "receipt_id",
        "lot_id",
        "receipt__posting__at",
        "receipt__supplier__code",
        "receipt__supplier__name",
        "receipt__order__code",
        "order_line__order__code",
        "receipt__delivery_note",
        "qty_base",
    )
    return sorted(map(ReceiptSide._make, rows), key=lambda side: side[:2])


def receipt_rows(nodes: Nodes) -> list[ReceiptRow]:
    """The same as the answer shows it. One statement."""
    return [
        ReceiptRow(
            receipt=encode(side.receipt_id, Prefix.RECEIPT),
            at=side.at,
            supplier=side.supplier,
            supplier_name=side.supplier_name,
            supplier_lot_code=nodes[side.lot_id].supplier_lot_code,
            order=side.order or side.line_order,
            delivery_note=side.delivery_note,
            lot=nodes[side.lot_id].code,
            item=nodes[side.lot_id].item,
            amount=nodes[side.lot_id].unit.row(side.qty_base),
        )
        for side in receipt_sides(nodes)
    ]


def _units(nodes: Nodes) -> dict[str, Unit]:
    return {node.item: node.unit for node in nodes.values()}
