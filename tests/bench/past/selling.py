"""Boxes packed and shipped, and what came back."""

from __future__ import annotations

import json
from typing import Final, NamedTuple

from batches.packing.models import (
    Box,
    CustomerOrder,
    CustomerOrderLine,
    CustomerReturn,
    Shipment,
    ShipmentLine,
)
from inventory.catalog.models import Place
from shopfloor.codes.alphabet import Prefix, encode
from shopfloor.models import Change
from tests.bench.past.ledger import Held
from tests.bench.past.shop import Shop
from tests.bench.past.writing import day, moment

BOX_PIECES: Final = 80
BOXES_OF_A_SHIPMENT: Final = 3
PRICE_MICRO: Final = 6_500_000
COMES_BACK: Final = 0.02  # share of shipments


class Packed(NamedTuple):
    """A box that stands ready."""

    id: int
    code: str
    place_id: int
    packed_at: str
    lots: list[Held]


class Packer:
    """Packs and ships what was made."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.boxes = 0
        self._ready: list[Packed] = []
        self._lures = [chain[-1] for chain in shop.floor.chains]

    def pack(self, boxes: int) -> None:
        """Pack up to so many boxes, as long as there are lures."""
        for _ in range(boxes):
            full = [i for i in self._lures if self.shop.ledger.on_shelf(i) >= BOX_PIECES]
            if not full:
                return
            self._pack(self.shop.random.choice(full))

    def ship(self) -> None:
        """Ship what stands ready."""
        while len(self._ready) >= BOXES_OF_A_SHIPMENT:
            load = self._ready[:BOXES_OF_A_SHIPMENT]
            del self._ready[:BOXES_OF_A_SHIPMENT]
            self._ship(load)

    def leave_standing(self) -> None:
        """Write the boxes that did not leave."""
        for box in self._ready:
            self._write(box, "closed")

    def _pack(self, item_id: int) -> None:
        shop, ledger, by_id = self.shop, self.shop.ledger, self.shop.floor.packer_id
        shop.pass_time(300)
        box_id, at = shop.writer.next_id(Box), moment(ledger.now)
        code = encode(box_id, Prefix.BOX)
        place_id = shop.writer.append(Place, code, f"Box {code}", "box", True)
        box = Packed(box_id, code, place_id, at, [])
        rest = BOX_PIECES
        while rest:
            lot = next(lot for lot in ledger.shelf[item_id] if lot.qty)
            if lot.qty > rest:
                out = ledger.take(lot, rest)
                part = Held(item_id=item_id, place_id=place_id, qty=rest, value=-out[2], parent=lot)
                ledger.post("moved", changes=[out], makes=[part], by_id=by_id)
            else:
                part = lot
                while ledger.shelf[item_id].popleft() is not lot:
                    pass
                lot.place_id = place_id
                finished = self._code_of_place(item_id)
                ledger.note(lot, "place", finished, code, by_id=by_id)
            rest -= part.qty
            box.lots.append(part)
        self.boxes += 1
        self._ready.append(box)
        shop.keep_key(code, [], box.lots, by_id=by_id)
        before, after = ({"state": "open", "reason": ""}, {"state": "closed", "reason": ""})
        shop.writer.append(
            Change, at, by_id, "batches_box", code, json.dumps(before), json.dumps(after)
        )

    def _code_of_place(self, item_id: int) -> str:
        wanted = self.shop.floor.items[item_id][1]
        return next(code for code, pk in self.shop.floor.places.items() if pk == wanted)

    def _write(self, box: Packed, state: str) -> None:
        self.shop.writer.add(
            Box, box.id, box.code, box.place_id, state, self.shop.floor.packer_id, box.packed_at,
            box.packed_at,
        )  # fmt: skip

    def _ship(self, load: list[Packed]) -> None:
        shop, ledger, writer = self.shop, self.shop.ledger, self.shop.writer
        by_id = shop.floor.packer_id
        shop.pass_time(1200)
        customer_id = shop.random.choice(shop.floor.customers)
        order_id = writer.next_id(CustomerOrder)
        order = encode(order_id, Prefix.CUSTOMER_ORDER)
        today, at = day(ledger.now), moment(ledger.now)
        writer.add(CustomerOrder, order_id, order, customer_id, today, "closed", "", by_id, at)
        pieces: dict[int, int] = {}
        for box in load:
            self._write(box, "shipped")
            for lot in box.lots:
                pieces[lot.item_id] = pieces.get(lot.item_id, 0) + lot.qty
        lines = {
            item_id: writer.append(
                CustomerOrderLine,
                order_id,
                number,
                item_id,
                qty,
                PRICE_MICRO,
                today,
                True,
            )
            for number, (item_id, qty) in enumerate(pieces.items(), 1)
        }
        changes = [ledger.take(lot, lot.qty) for box in load for lot in box.lots]
        shipped = [(box.id, lot, lot.qty) for box in load for lot in box.lots]
        posting = ledger.post(
            "shipped",
            changes=changes,
            by_id=by_id,
            outside_kind="cost_of_goods",
            document=("customer_order", order),
        )
        writer.add(Shipment, posting, customer_id, order_id, "parcel")
        for box_id, lot, qty in shipped:
            writer.append(
                ShipmentLine, posting, lot.id, box_id, lines[lot.item_id], qty, PRICE_MICRO, "sale"
            )
        shop.keep_key(encode(posting, Prefix.SHIPMENT), changes, [], by_id=by_id)
        if shop.random.random() < COMES_BACK:
            self._take_back(posting, load[0], *changes[0])

    def _take_back(self, shipment: int, box: Packed, lot: Held, qty: int, value: int) -> None:
        """A twentieth of a lot comes back, is looked at, and thrown away."""
        shop, ledger, by_id = self.shop, self.shop.ledger, self.shop.floor.packer_id
        shop.pass_time(3600)
        pieces = max(-qty // 20, 1)
        back = (lot, pieces, -value * pieces // -qty)
        posting = ledger.post("returned", changes=[back], by_id=by_id, outside_kind="cost_of_goods")
        shop.writer.add(CustomerReturn, posting, shipment)
        incoming = shop.floor.places["INCOMING"]
        lot.place_id, lot.disposition = incoming, "quarantined"
        ledger.note(lot, "place", box.code, "INCOMING", by_id=by_id)
        ledger.note(lot, "disposition", "released", "quarantined", by_id=by_id)
        shop.leftovers.append(lot)
