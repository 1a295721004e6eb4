"""A lot that left with its box is not filled again where it stood: the box is gone."""

from __future__ import annotations

import pytest

from batches.exchange.selectors.proofs import floor_proofs
from batches.packing.models import Customer
from batches.packing.operations import reverse_shipment
from inventory.stock.errors import LotShippedError
from inventory.stock.models import Lot
from inventory.stock.operations import Found, adjust_lot, count_lots
from shopfloor.models import User
from tests.batches.packing.conftest import LATER, stamp_at
from tests.batches.packing.sending import ClosedBox, send


def differences() -> list[str]:
    return [line for proof in floor_proofs() for line in proof.differences]


def test_a_lot_that_left_with_its_box_is_neither_adjusted_nor_counted_up(
    packer: User, owner: User, customer: Customer, lot: Lot, closed_box: ClosedBox
) -> None:
    box = closed_box((lot.code, 24))
    (packed,) = Lot.objects.filter(place=box.place)
    send(packer, box)
    with pytest.raises(LotShippedError) as refused:
        adjust_lot(lot_code=packed.code, qty_base=24, stamp=stamp_at(owner, LATER))
    assert refused.value.facts == {"lots": [packed.code]}
    with pytest.raises(LotShippedError):
        count_lots(found=[Found(packed.code, 24)], stamp=stamp_at(owner, LATER))
    assert differences() == []


def test_a_shipment_that_never_was_leaves_its_lots_to_be_counted(
    packer: User, owner: User, customer: Customer, lot: Lot, closed_box: ClosedBox
) -> None:
    box = closed_box((lot.code, 24))
    (packed,) = Lot.objects.filter(place=box.place)
    shipment = send(packer, box)
    reverse_shipment(shipment_code=shipment.code, stamp=stamp_at(packer, LATER))
    count_lots(found=[Found(packed.code, 0)], stamp=stamp_at(owner, LATER))
    adjust_lot(lot_code=packed.code, qty_base=23, stamp=stamp_at(owner, LATER))
    packed.refresh_from_db()
    assert packed.on_hand_base == 23
    assert differences() == []
