"""Suppliers' orders and what came of them; containers opened."""

from __future__ import annotations

from typing import Final

from inventory.purchasing.models import Receipt, ReceiptLine, SupplierOrder, SupplierOrderLine
from shopfloor.codes.alphabet import Prefix, encode
from tests.bench.past.ledger import Held
from tests.bench.past.shop import Shop
from tests.bench.past.writing import day, moment

DAY: Final = 86_400
IS_CLOSED: Final = True
TESTED_ON_ARRIVAL: Final = 0.1  # share of deliveries that wait for a test


def receive(shop: Shop, item_id: int, *, lot_base: int) -> None:
    """Order so much of an item in three to five lots, and receive it."""
    ledger, writer, random, floor = shop.ledger, shop.writer, shop.random, shop.floor
    code, place_id = floor.items[item_id]
    packs = random.randint(3, 5)
    price = random.randint(2_000_000, 60_000_000)
    supplier_id = floor.suppliers[item_id % len(floor.suppliers)]
    order_id = _order(shop, supplier_id)
    waits = random.random() < TESTED_ON_ARRIVAL
    lots = [
        Held(
            item_id=item_id,
            place_id=place_id,
            qty=lot_base,
            value=price,
            supplier_id=supplier_id,
            supplier_lot=f"{code}-{random.randint(10_000, 99_999)}",
            expires_at=ledger.now + 365 * DAY if item_id % 2 else None,
            disposition="quarantined" if waits else "released",
        )
        for _ in range(packs)
    ]
    posting = ledger.post(
        "received",
        makes=lots,
        by_id=floor.packer_id,
        outside_kind="purchase",
        document=("supplier_order", encode(order_id, Prefix.SUPPLIER_ORDER)),
    )
    note = f"DN-{posting}"
    writer.add(Receipt, posting, supplier_id, order_id, note)
    line_id = writer.next_id(SupplierOrderLine)
    writer.add(
        SupplierOrderLine,
        line_id,
        *(order_id, 1, item_id, packs, lot_base, price, day(ledger.now), IS_CLOSED),
    )
    for lot in lots:
        writer.append(ReceiptLine, posting, lot.id, line_id, lot.qty)
        if waits:
            lot.disposition = "released"
            ledger.note(lot, "disposition", "quarantined", "released", by_id=floor.owner_id)
    ledger.shelf[item_id].extend(lots)
    shop.keep_key(encode(posting, Prefix.RECEIPT), [], lots, by_id=floor.packer_id)


def open_one(shop: Shop, item_id: int) -> None:
    """Take a tenth of the oldest lot as a container of its own, and open it."""
    ledger = shop.ledger
    lot = next((lot for lot in ledger.shelf[item_id] if lot.qty >= 10), None)
    if lot is None:
        return
    out = ledger.take(lot, lot.qty // 10)
    bottle = Held(
        item_id=item_id,
        place_id=lot.place_id,
        qty=-out[1],
        value=-out[2],
        parent=lot,
        expires_at=lot.expires_at,
        supplier_id=lot.supplier_id,
        supplier_lot=lot.supplier_lot,
    )
    by_id = shop.floor.benches[0]
    ledger.post("split", changes=[out], makes=[bottle], by_id=by_id)
    bottle.opened_at, bottle.discard_at = ledger.now, ledger.now + 90 * DAY
    ledger.note(bottle, "opened", "", moment(ledger.now), by_id=by_id)
    ledger.shelf[item_id].appendleft(bottle)


def _order(shop: Shop, supplier_id: int) -> int:
    order_id = shop.writer.next_id(SupplierOrder)
    ordered_at = shop.ledger.now - shop.random.randint(7, 70) * DAY
    shop.writer.add(
        SupplierOrder,
        order_id,
        encode(order_id, Prefix.SUPPLIER_ORDER),
        supplier_id,
        day(ordered_at),
        "closed",
        "",
        shop.floor.owner_id,
        moment(ordered_at),
    )
    return order_id
