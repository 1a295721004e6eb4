"""Two packers at once, on a database of several connections."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection, connections

from batches.packing.models import Box, Customer
from batches.packing.operations import (
    Back,
    LooseLot,
    Part,
    Price,
    pack_box,
    put_box_in,
    reverse_shipment,
    ship,
    take_back_from_customer,
)
from inventory.stock.models import Lot
from shopfloor.errors import ShopError
from shopfloor.models import User
from tests.batches.packing.conftest import stamp_at
from tests.needs import need_threads

pytestmark = pytest.mark.django_db(transaction=True)

PRICES = [Price("MINNOW", 8_000_000)]


@pytest.fixture(autouse=True)
def several_connections() -> None:
    need_threads()


def at_once(*calls: Callable[[], object]) -> list[str]:
    """Run the calls together; the code of each refusal, or `done`."""
    start = Barrier(len(calls))

    def run(call: Callable[[], object]) -> str:
        try:
            connection.ensure_connection()  # before the start: connecting would spread the calls
            start.wait()
            call()
        except ShopError as error:
            return error.code
        finally:
            connections.close_all()
        return "done"

    with ThreadPoolExecutor(len(calls)) as pool:
        return sorted(pool.map(run, calls))


def test_of_two_boxes_that_together_want_more_than_there_is_one_is_packed(
    lot: Lot, packer: User
) -> None:
    def pack() -> object:
        return pack_box(contents=[Part("M1", 60)], stamp=stamp_at(packer))

    assert at_once(pack, pack) == ["done", "lot_short"]
    lot.refresh_from_db()
    assert (lot.on_hand_base, Box.objects.count()) == (40, 1)


def test_boxes_packed_at_once_get_codes_of_their_own(lot: Lot, packer: User) -> None:
    def pack() -> object:
        return pack_box(contents=[Part("M1", 5)], stamp=stamp_at(packer))

    assert at_once(pack, pack, pack) == ["done"] * 3
    assert len(set(Box.objects.values_list("code", flat=True))) == 3
    lot.refresh_from_db()
    assert lot.on_hand_base == 85


def test_a_box_is_shipped_once(
    customer: Customer, lot: Lot, closed_box: Callable[..., Box], packer: User
) -> None:
    box = closed_box(("M1", 10))

    def send() -> object:
        return ship(
            customer_code="HEN", box_codes=[box.code], prices=PRICES, stamp=stamp_at(packer)
        )

    assert at_once(send, send) == ["box_shipped", "done"]
    assert Lot.objects.get(code="M1.1").movements.count() == 2


def test_of_two_boxes_each_put_into_the_other_one_is_refused(packer: User) -> None:
    pack_box(contents=[], code="A", stamp=stamp_at(packer))
    pack_box(contents=[], code="B", stamp=stamp_at(packer))
    told = at_once(
        lambda: put_box_in(box_code="A", parent_code="B", stamp=stamp_at(packer)),
        lambda: put_box_in(box_code="B", parent_code="A", stamp=stamp_at(packer)),
    )
    assert told == ["box_cycle", "done"]


def test_of_four_boxes_put_in_a_ring_by_two_people_one_step_is_refused(packer: User) -> None:
    for code in "ABCD":
        pack_box(contents=[], code=code, stamp=stamp_at(packer))
    put_box_in(box_code="B", parent_code="C", stamp=stamp_at(packer))
    put_box_in(box_code="D", parent_code="A", stamp=stamp_at(packer))
    told = at_once(
        lambda: put_box_in(box_code="A", parent_code="B", stamp=stamp_at(packer)),
        lambda: put_box_in(box_code="C", parent_code="D", stamp=stamp_at(packer)),
    )
    assert told == ["box_cycle", "done"]


def test_a_shipment_is_reversed_once_and_no_piece_comes_back_twice(
    customer: Customer, lot: Lot, packer: User
) -> None:
    first, second = (
        ship(
            customer_code="HEN",
            lots=[LooseLot("M1", 5)],
            prices=PRICES,
            stamp=stamp_at(packer),
        ).code
        for _ in range(2)
    )

    def undo() -> object:
        return reverse_shipment(shipment_code=first, stamp=stamp_at(packer))

    def take_back() -> object:
        return take_back_from_customer(
            shipment_code=second,
            lines=[Back("M1.2", 3)],
            place_code="RETURNS",
            stamp=stamp_at(packer),
        )

    assert at_once(undo, undo) == ["done", "not_reversible"]
    assert at_once(take_back, take_back) == ["done", "return_too_large"]
    assert Lot.objects.get(code="M1.2").on_hand_base == 3
