"""Two packers at once, on a database of several connections."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest

from batches.packing.models import Box, Complaint, Customer
from batches.packing.operations import (
    Back,
    ComplaintDraft,
    LooseLot,
    OrderLine,
    Part,
    Price,
    cancel_customer_order,
    complain,
    create_customer,
    enter_customer_order,
    pack_box,
    put_box_in,
    reverse_shipment,
    ship,
    take_back_from_customer,
)
from batches.runs.operations import add_scrap_reason
from inventory.stock.models import Lot
from inventory.stock.operations import hold_lot
from shopfloor.models import User
from tests.batches.packing.conftest import LATER, MONDAY, stamp_at
from tests.needs import need_threads
from tests.racing import at_once, codes, inside, one_behind_the_other

pytestmark = pytest.mark.django_db(transaction=True)

PRICES = [Price("MINNOW", 8_000_000)]


@pytest.fixture(autouse=True)
def several_connections() -> None:
    need_threads()


def test_of_two_boxes_that_together_want_more_than_there_is_one_is_packed(
    lot: Lot, packer: User
) -> None:
    def pack() -> object:
        return pack_box(contents=[Part("M1", 60)], stamp=stamp_at(packer))

    assert codes(at_once(pack, pack)) == ["done", "lot_short"]
    lot.refresh_from_db()
    assert (lot.on_hand_base, Box.objects.count()) == (40, 1)


def test_boxes_packed_at_once_get_codes_of_their_own(lot: Lot, packer: User) -> None:
    def pack() -> object:
        return pack_box(contents=[Part("M1", 5)], stamp=stamp_at(packer))

    assert codes(at_once(pack, pack, pack)) == ["done"] * 3
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

    assert codes(at_once(send, send)) == ["box_shipped", "done"]
    assert Lot.objects.get(code="M1.1").movements.count() == 2


def test_of_two_boxes_each_put_into_the_other_one_is_refused(packer: User) -> None:
    pack_box(contents=[], code="A", stamp=stamp_at(packer))
    pack_box(contents=[], code="B", stamp=stamp_at(packer))
    told = at_once(
        lambda: put_box_in(box_code="A", parent_code="B", stamp=stamp_at(packer)),
        lambda: put_box_in(box_code="B", parent_code="A", stamp=stamp_at(packer)),
    )
    assert codes(told) == ["box_cycle", "done"]


def test_of_four_boxes_put_in_a_ring_by_two_people_one_step_is_refused(packer: User) -> None:
    for code in "ABCD":
        pack_box(contents=[], code=code, stamp=stamp_at(packer))
    put_box_in(box_code="B", parent_code="C", stamp=stamp_at(packer))
    put_box_in(box_code="D", parent_code="A", stamp=stamp_at(packer))
    told = at_once(
        lambda: put_box_in(box_code="A", parent_code="B", stamp=stamp_at(packer)),
        lambda: put_box_in(box_code="C", parent_code="D", stamp=stamp_at(packer)),
    )
    assert codes(told) == ["box_cycle", "done"]


def test_of_eight_boxes_put_in_a_ring_by_four_people_one_step_is_refused(packer: User) -> None:
    pairs = [("A", "B"), ("C", "D"), ("E", "F"), ("G", "H")]
    for outer, inner in pairs:
        pack_box(contents=[], code=outer, stamp=stamp_at(packer))
        pack_box(contents=[], code=inner, parent_code=outer, stamp=stamp_at(packer))

    def step(outer: str, into: str) -> Callable[[], object]:
        return lambda: put_box_in(box_code=outer, parent_code=into, stamp=stamp_at(packer))

    told = at_once(step("A", "D"), step("C", "F"), step("E", "H"), step("G", "B"))
    assert codes(told) == ["box_cycle", "done", "done", "done"]


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

    assert codes(at_once(undo, undo)) == ["done", "not_reversible"]
    assert codes(at_once(take_back, take_back)) == ["done", "return_too_large"]
    assert Lot.objects.get(code="M1.2").on_hand_base == 3


def test_a_box_that_waits_for_a_hold_does_not_leave(
    customer: Customer, lot: Lot, closed_box: Callable[..., Box], packer: User
) -> None:
    box = closed_box(("M1", 10))
    _, refused = one_behind_the_other(
        lambda: inside(hold_lot)(lot_code="M1", stamp=stamp_at(packer)),
        lambda: ship(
            customer_code="HEN", box_codes=[box.code], prices=PRICES, stamp=stamp_at(packer)
        ),
    )
    assert codes([refused]) == ["lot_held"]
    assert Lot.objects.get(code="M1.1").on_hand_base == 10


def test_a_hold_that_waits_for_a_box_to_leave_stops_only_what_is_still_ours(
    customer: Customer, lot: Lot, closed_box: Callable[..., Box], packer: User
) -> None:
    box = closed_box(("M1", 10))
    told = one_behind_the_other(
        lambda: inside(ship)(
            customer_code="HEN", box_codes=[box.code], prices=PRICES, stamp=stamp_at(packer)
        ),
        lambda: hold_lot(lot_code="M1", stamp=stamp_at(packer)),
    )
    assert codes(told) == ["done", "done"]
    dispositions = Lot.objects.order_by("code").values_list("code", "disposition")
    assert list(dispositions) == [("M1", "held"), ("M1.1", "released")]


def test_an_order_is_not_cancelled_while_something_leaves_on_it(
    customer: Customer, lot: Lot, packer: User
) -> None:
    order = enter_customer_order(
        customer_code="HEN", lines=[OrderLine("MINNOW", 9, 1)], stamp=stamp_at(packer)
    )
    told = one_behind_the_other(
        lambda: inside(ship)(
            customer_code="HEN",
            order_code=order.code,
            lots=[LooseLot("M1", 5)],
            stamp=stamp_at(packer),
        ),
        lambda: cancel_customer_order(order_code=order.code, stamp=stamp_at(packer)),
    )
    assert codes(told) == ["done", "order_shipped"]


def test_what_comes_back_while_its_shipment_is_reversed_is_refused(
    customer: Customer, lot: Lot, packer: User
) -> None:
    shipment = ship(
        customer_code="HEN", lots=[LooseLot("M1", 5)], prices=PRICES, stamp=stamp_at(packer)
    )
    told = one_behind_the_other(
        lambda: inside(reverse_shipment)(shipment_code=shipment.code, stamp=stamp_at(packer)),
        lambda: take_back_from_customer(
            shipment_code=shipment.code,
            lines=[Back("M1.1", 3)],
            place_code="RETURNS",
            stamp=stamp_at(packer),
        ),
    )
    assert codes(told) == ["done", "shipment_reversed"]
    assert Lot.objects.get(code="M1.1").on_hand_base == 5


def test_of_two_customers_entered_under_one_code_one_is_refused(packer: User) -> None:
    def enter() -> object:
        return create_customer(code="HEN", name="A test customer", stamp=stamp_at(packer))

    assert codes(at_once(enter, enter)) == ["done", "duplicate_code"]


def test_of_two_complaints_that_together_are_of_more_than_left_one_is_written(
    customer: Customer, lot: Lot, packer: User
) -> None:
    add_scrap_reason(code="LEAK", name="Leaks", by=packer, at=MONDAY)
    lots = [LooseLot("M1", 10)]
    ship(customer_code="HEN", lots=lots, prices=PRICES, stamp=stamp_at(packer))

    def told(code: str) -> Callable[[], object]:
        draft = ComplaintDraft(defect_code="LEAK", pieces=6, lot_code=code)
        return lambda: complain(draft=draft, stamp=stamp_at(packer, LATER))

    assert codes(at_once(told("M1"), told("M1.1"))) == ["complaint_too_large", "done"]
    assert Complaint.objects.count() == 1


def test_of_two_that_replace_the_same_complaint_one_is_written(
    customer: Customer, lot: Lot, packer: User
) -> None:
    add_scrap_reason(code="LEAK", name="Leaks", by=packer, at=MONDAY)
    ship(customer_code="HEN", lots=[LooseLot("M1", 10)], prices=PRICES, stamp=stamp_at(packer))
    draft = ComplaintDraft(defect_code="LEAK", pieces=1, lot_code="M1")
    wrong = complain(draft=draft, stamp=stamp_at(packer, LATER))
    right = ComplaintDraft(
        defect_code="LEAK",
        pieces=1,
        item_code="MINNOW",
        bought_first_on=LATER.date() - timedelta(days=40),
        bought_last_on=LATER.date(),
        replaces=wrong.code,
    )

    def replace() -> object:
        return complain(draft=right, stamp=stamp_at(packer, LATER))

    assert codes(at_once(replace, replace)) == ["complaint_replaced", "done"]
