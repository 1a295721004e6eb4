"""Boxes and shipments of the past."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from batches.exchange.rules.lists import LotUsed
from batches.exchange.rules.reading import Row
from batches.exchange.steps.naming import spread
from batches.exchange.steps.rowing import Importing, refusals_of
from batches.packing.models import BoxState, Purpose
from batches.packing.steps.boxes import Part, change_state, new_box, put_lots, refuse_twice
from batches.packing.steps.locking import lock_lots_there
from batches.packing.steps.orders import active_customer, open_order, settle_order
from batches.packing.steps.shipping import (
    LooseLot,
    Price,
    Terms,
    lock_load,
    refuse_unfit,
    send,
    split_loose,
)


def post_box(rows: Sequence[Row], importing: Importing) -> None:
    """One box with all that went in, closed unless told otherwise."""
    head = rows[0]
    stamp = importing.stamp(head["at"])
    with refusals_of(head):
        named = importing.lots.lots_of({row["lot"]: row for row in rows})
    parts: list[Part] = []
    for row, pieces in _added_up(rows):
        with refusals_of(row):
            meant = spread(named[row["lot"]], pieces)
            parts += [Part(lot.code, part) for lot, part in meant]
    with refusals_of(head):
        codes = [part.lot_code for part in parts]
        refuse_twice(codes, "lot")
        lots = lock_lots_there(codes)
        box = new_box(code=head["box"], parent=None, stamp=stamp)
        put_lots(box, parts, lots, stamp)
        if head["closed"] is not False:
            change_state(box, BoxState.CLOSED, stamp)


def _added_up(rows: Sequence[Row]) -> list[tuple[Row, int]]:
    """The first row of each lot, and the pieces of all its rows."""
    first = {row["lot"]: row for row in reversed(rows)}
    pieces = Counter[LotUsed]()
    for row in rows:
        pieces[row["lot"]] += row["pieces"]
    return [(first[lot], n) for lot, n in pieces.items()]


def post_shipment(rows: Sequence[Row], importing: Importing) -> None:
    """What left together, as one posting."""
    head = rows[0]
    stamp = importing.stamp(head["at"])
    loose: list[LooseLot] = []
    for row in rows:
        if row["lot"] is not None:
            with refusals_of(row):
                loose += _loose(row, importing)
    with refusals_of(head):
        refuse_twice([lot.lot_code for lot in loose], "lot")
        boxes = [row["box"] for row in rows if row["box"]]
        load = lock_load(boxes, [lot.lot_code for lot in loose])
        customer = active_customer(head["customer"])
        order = open_order(head["order"], customer) if head["order"] else None
        refuse_unfit(load, stamp)
        leaving = split_loose(loose, load.loose, stamp)
        send(
            load=load,
            lots=[*load.boxed, *(lot for lot, _ in leaving)],
            terms=Terms(
                purpose=Purpose(head["purpose"] or Purpose.SALE),
                prices={item: Price(item, price) for item, price in (head["prices"] or {}).items()},
                loose={lot.pk: asked for lot, asked in leaving},
                order_lines=[] if order is None else list(order.lines.order_by("position")),
            ),
            customer=customer,
            order=order,
            carrier=head["carrier"] or "",
            stamp=stamp,
        )
        if order is not None:
            settle_order(order, stamp)


def _loose(row: Row, importing: Importing) -> list[LooseLot]:
    lots = importing.lots.lots(row["lot"], importing.now)
    pieces = row["pieces"]
    if pieces is None:
        return [LooseLot(lot.code) for lot in lots]
    return [LooseLot(lot.code, part) for lot, part in spread(lots, pieces)]
