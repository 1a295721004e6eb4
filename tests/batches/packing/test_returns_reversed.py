"""A return that never came: reversed, everything is as it was before."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from batches.packing.models import Customer
from batches.packing.operations import LooseLot, reverse_customer_return, reverse_shipment
from batches.packing.selectors import customer_returns, return_rows
from inventory.stock.errors import NotReversibleError, TooEarlyError
from inventory.stock.models import Hold, Lot, Posting
from inventory.stock.operations import hold_lot, move_lot
from inventory.stock.selectors.proofs import ledger_proofs
from shopfloor.models import User
from shopfloor.stamp import ReasonMissingError, Stamp
from tests.batches.packing.conftest import MONDAY, stamp_at
from tests.batches.packing.sending import ClosedBox, back, row_of, send


def later(by: User) -> Stamp:
    """Written down a day after everything else."""
    return replace(stamp_at(by), now=stamp_at(by).now + timedelta(days=1))


def test_a_reversed_return_leaves_everything_as_it_was_before(
    customer: Customer, lot: Lot, packer: User
) -> None:
    shipment = send(packer, lots=[LooseLot("M1", 5)])
    before = Lot.objects.values().get(code="M1.1")
    returned = back(packer, shipment, ("M1.1", 2))
    reverse_customer_return(posting_code=returned.posting.code, stamp=later(packer))
    after = Lot.objects.values().get(code="M1.1")
    assert after | {"touched_at": None} == before | {"touched_at": None}
    assert row_of(shipment).lines[0].returned == 0
    assert all(not proof.differences for proof in ledger_proofs())
    (row,) = return_rows(list(customer_returns()))
    assert row.reversed_by == Posting.objects.get(kind="reversed").code
    with pytest.raises(NotReversibleError):
        reverse_customer_return(posting_code=returned.posting.code, stamp=later(packer))


def test_a_shipment_is_reversed_once_its_returns_are(
    customer: Customer, lot: Lot, closed_box: ClosedBox, packer: User
) -> None:
    box = closed_box(("M1", 5))
    shipment = send(packer, box)
    returned = back(packer, shipment, ("M1.1", 1))
    with pytest.raises(NotReversibleError, match="reverse the returns first"):
        reverse_shipment(shipment_code=shipment.code, stamp=later(packer))
    reverse_customer_return(posting_code=returned.posting.code, stamp=later(packer))
    reverse_shipment(shipment_code=shipment.code, stamp=later(packer))
    lot = Lot.objects.get(code="M1.1")
    assert (lot.place.code, lot.on_hand_base, lot.disposition) == (box.code, 5, "released")


def test_a_reversed_return_ends_the_hold_that_it_placed_and_no_other(
    customer: Customer, lot: Lot, packer: User
) -> None:
    shipment = send(packer, lots=[LooseLot("M1", 5)])
    hold = hold_lot(lot_code="M1.1", stamp=stamp_at(packer))
    returned = back(packer, shipment, ("M1.1", 1))
    reverse_customer_return(posting_code=returned.posting.code, stamp=later(packer))
    assert list(Hold.objects.filter(release=None)) == [hold]
    assert Lot.objects.get(code="M1.1").disposition == "held"


def test_a_return_that_was_used_or_moved_since_is_not_reversed(
    customer: Customer, lot: Lot, packer: User
) -> None:
    shipment = send(packer, lots=[LooseLot("M1", 5)])
    first = back(packer, shipment, ("M1.1", 1))
    second = back(packer, shipment, ("M1.1", 1))
    with pytest.raises(NotReversibleError):
        reverse_customer_return(posting_code=first.posting.code, stamp=later(packer))
    move_lot(lot_code="M1.1", place_code="SHELF", stamp=later(packer))
    with pytest.raises(NotReversibleError):
        reverse_customer_return(posting_code=second.posting.code, stamp=later(packer))


def test_a_return_is_reversed_with_a_reason_and_not_before_it_came(
    customer: Customer, lot: Lot, packer: User
) -> None:
    returned = back(packer, send(packer, lots=[LooseLot("M1", 5)]), ("M1.1", 1))
    with pytest.raises(ReasonMissingError):
        reverse_customer_return(
            posting_code=returned.posting.code, stamp=stamp_at(packer, reason="")
        )
    with pytest.raises(TooEarlyError):
        reverse_customer_return(posting_code=returned.posting.code, stamp=stamp_at(packer, MONDAY))
