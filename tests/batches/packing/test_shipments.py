"""What leaves and what comes back: amounts, values, boxes, refusals, reversal."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from batches.packing.errors import (
    BoxChangedError,
    BoxEmptyError,
    BoxInBoxError,
    BoxNotClosedError,
    BoxShippedError,
    LotElsewhereError,
    LotInBoxError,
    LotNotOursError,
    NamedTwiceError,
    NotShippedError,
    OrderNotOpenError,
    OrderOfOtherCustomerError,
    PriceMissingError,
    ReturnTooLargeError,
    ShipmentReversedError,
)
from batches.packing.models import Box, Customer, CustomerReturn, Shipment
from batches.packing.operations import (
    Back,
    LooseLot,
    OrderLine,
    Part,
    Price,
    Purpose,
    add_to_box,
    cancel_customer_order,
    change_customer,
    close_box,
    create_customer,
    enter_customer_order,
    pack_box,
    reopen_box,
    reverse_shipment,
    ship,
    take_back_from_customer,
    take_out_of_box,
)
from batches.packing.selectors import (
    ShipmentRow,
    box_named,
    box_rows,
    boxes_of_lots,
    order_named,
    order_rows,
    shipment_named,
    shipment_rows,
    shipments,
    shipments_of_lots,
)
from batches.packing.steps.boxes import refuse_changed
from inventory.catalog.errors import NotActiveError
from inventory.catalog.models import Item
from inventory.catalog.operations import create_item, create_place
from inventory.stock.errors import (
    LotExpiredError,
    LotHeldError,
    LotNotThereYetError,
    LotShortError,
    NothingToDoError,
    NotReversibleError,
)
from inventory.stock.models import HeldLot, Lot, Movement, Posting
from inventory.stock.operations import (
    OpeningLot,
    dispose_of_lot,
    hold_lot,
    move_lot,
    release_hold,
    release_lot,
    take_in_opening_lots,
)
from shopfloor.errors import InvalidInputError
from shopfloor.models import User
from shopfloor.operations import create_first_owner
from shopfloor.selectors import person_named
from shopfloor.stamp import InFutureError, ReasonMissingError, Stamp
from tests.batches.packing.conftest import LATER, MONDAY, TUESDAY, StockOf, stamp_at

DOLLAR = 1_000_000
EACH_8 = [Price("MINNOW", 8 * DOLLAR), Price("FROG", 8 * DOLLAR)]
ClosedBox = Callable[..., Box]


def row_of(shipment: Shipment) -> ShipmentRow:
    return shipment_rows([shipment_named(shipment.code)])[0]


def moved(lot_code: str) -> list[tuple[int, int]]:
    found = Movement.objects.filter(lot__code=lot_code).order_by("id")
    return list(found.values_list("qty_base", "value_micro"))


def state_of(box: Box) -> str:
    return box_named(box.code).state


def send(packer: User, *boxes: Box, **given: Any) -> Shipment:
    return ship(
        customer_code="HEN",
        box_codes=[box.code for box in boxes],
        **{"prices": EACH_8, "stamp": stamp_at(packer), **given},
    )


def back(packer: User, shipment: Shipment, *lines: tuple[str, int], **given: Any) -> CustomerReturn:
    return take_back_from_customer(
        shipment_code=shipment.code,
        lines=[Back(lot_code, pieces) for lot_code, pieces in lines],
        **{"place_code": "RETURNS", "stamp": stamp_at(packer), **given},
    )


# --- Out ---


def test_a_shipment_is_one_posting_of_every_lot_in_its_boxes_whole(
    customer: Customer, lot: Lot, frogs: Lot, closed_box: ClosedBox, packer: User
) -> None:
    box = closed_box(("M1", 24), ("F1", None))
    shipment = send(packer, box, carrier="a carrier")
    posting = shipment.posting
    assert (posting.kind, posting.outside_kind) == ("shipped", "cost_of_goods")
    assert posting.outside_micro == -(24 + 50) * DOLLAR
    assert moved("M1.1")[1:] == [(-24, -24 * DOLLAR)]
    assert moved("F1")[1:] == [(-50, -50 * DOLLAR)]
    assert (posting.document_kind, posting.document_code) == ("customer", "HEN")
    row = row_of(shipment)
    assert (row.cost_micro, row.price_micro) == (74 * DOLLAR, 8 * 74 * DOLLAR)
    assert [(line.lot, line.box, line.pieces) for line in row.lines] == [
        ("F1", box.code, 50),
        ("M1.1", box.code, 24),
    ]


def test_a_shipped_box_says_what_left_in_it_and_takes_nothing_more(
    customer: Customer, lot: Lot, closed_box: ClosedBox, packer: User
) -> None:
    box = closed_box(("M1", 24))
    shipment = send(packer, box)
    row = box_rows([box_named(box.code)])[0]
    assert (row.state, row.pieces, row.shipment) == ("shipped", 24, shipment.code)
    with pytest.raises(BoxShippedError):
        add_to_box(box_code=box.code, contents=[Part("M1", 1)], stamp=stamp_at(packer))
    with pytest.raises(BoxShippedError):
        reopen_box(box_code=box.code, stamp=stamp_at(packer))
    with pytest.raises(BoxShippedError):
        send(packer, box)


def test_boxes_in_a_box_leave_with_it(
    customer: Customer, lot: Lot, closed_box: ClosedBox, packer: User
) -> None:
    pallet = pack_box(contents=[], code="PALLET", stamp=stamp_at(packer))
    inner = closed_box(("M1", 10), parent_code="PALLET")
    close_box(box_code="PALLET", stamp=stamp_at(packer))
    shipment = send(packer, pallet)
    assert (state_of(pallet), state_of(inner)) == ("shipped", "shipped")
    assert row_of(shipment).lines[0].box == inner.code
    assert box_rows([box_named("PALLET")])[0].shipment == shipment.code


def test_part_of_a_loose_lot_is_split_off_so_that_it_leaves_whole(
    customer: Customer, lot: Lot, packer: User
) -> None:
    shipment = send(packer, lots=[LooseLot("M1", 30)])
    assert row_of(shipment).lines[0].lot == "M1.1"
    assert moved("M1.1") == [(30, 30 * DOLLAR), (-30, -30 * DOLLAR)]
    assert Lot.objects.get(code="M1").on_hand_base == 70


def test_a_loose_lot_leaves_whole_without_a_split(
    customer: Customer, lot: Lot, packer: User
) -> None:
    assert row_of(send(packer, lots=[LooseLot("M1")])).lines[0].lot == "M1"


def test_price_and_purpose_are_the_lots_own_else_the_items_else_the_orders(
    customer: Customer, lot: Lot, frogs: Lot, stock_of: StockOf, minnow: Item, packer: User
) -> None:
    stock_of(minnow, 5, lot_code="M2")
    order = enter_customer_order(
        customer_code="HEN", lines=[OrderLine("MINNOW", 9, 7 * DOLLAR)], stamp=stamp_at(packer)
    )
    shipment = send(
        packer,
        order_code=order.code,
        prices=[Price("FROG", 3 * DOLLAR, Purpose.SAMPLE)],
        lots=[
            LooseLot("M1", 2, 6 * DOLLAR),
            LooseLot("M2", 1),
            LooseLot("F1", 4),
        ][:3],
    )
    lines = [(line.lot, line.price_micro, line.purpose) for line in row_of(shipment).lines]
    assert lines == [
        ("M1.1", 6 * DOLLAR, "sale"),
        ("M2.1", 7 * DOLLAR, "sale"),
        ("F1.1", 3 * DOLLAR, "sample"),
    ]
    assert shipment.posting.document_code == order.code


def test_a_sale_without_a_price_is_refused_and_a_free_piece_costs_nothing(
    customer: Customer, lot: Lot, packer: User
) -> None:
    with pytest.raises(PriceMissingError):
        send(packer, lots=[LooseLot("M1", 1)], prices=[])
    shipment = send(packer, lots=[LooseLot("M1", 1)], prices=[], purpose=Purpose.FREE)
    assert row_of(shipment).lines[0].price_micro == 0


# --- Refused ---


def test_a_held_lot_in_a_box_stops_the_shipment_and_is_named_with_its_box(
    customer: Customer, lot: Lot, frogs: Lot, closed_box: ClosedBox, packer: User
) -> None:
    fine, stopped = closed_box(("F1", 1)), closed_box(("M1", 24))
    hold_lot(lot_code="M1", stamp=stamp_at(packer))
    postings = Posting.objects.count()
    with pytest.raises(LotHeldError) as refused:
        send(packer, fine, stopped)
    assert (refused.value.facts["lot"], refused.value.facts["box"]) == ("M1.1", stopped.code)
    assert Posting.objects.count() == postings
    assert (state_of(fine), state_of(stopped)) == ("closed", "closed")


def test_a_lot_that_expired_in_its_box_stops_the_shipment(
    customer: Customer, stock_of: StockOf, frog: Item, closed_box: ClosedBox, packer: User
) -> None:
    lot = stock_of(frog, 5, expires_at=TUESDAY)
    box = closed_box((lot.code, None))
    with pytest.raises(LotExpiredError) as refused:
        send(packer, box, stamp=stamp_at(packer, TUESDAY + timedelta(seconds=1)))
    assert refused.value.facts["box"] == box.code
    assert send(packer, box, stamp=stamp_at(packer, TUESDAY)).pk


def test_an_open_box_does_not_leave(customer: Customer, lot: Lot, packer: User) -> None:
    box = pack_box(contents=[Part("M1", 1)], stamp=stamp_at(packer))
    with pytest.raises(BoxNotClosedError):
        send(packer, box)


def test_a_box_in_another_does_not_leave_alone(
    customer: Customer, lot: Lot, closed_box: ClosedBox, packer: User
) -> None:
    pack_box(contents=[], code="PALLET", stamp=stamp_at(packer))
    inner = closed_box(("M1", 10), parent_code="PALLET")
    with pytest.raises(BoxInBoxError):
        send(packer, inner)


def test_a_box_that_was_emptied_by_hand_does_not_leave(
    customer: Customer, lot: Lot, closed_box: ClosedBox, packer: User, owner: User
) -> None:
    box = closed_box(("M1", 10))
    dispose_of_lot(lot_code="M1.1", qty_base=10, stamp=stamp_at(owner))
    with pytest.raises(BoxEmptyError):
        send(packer, box)


def test_a_lot_in_a_box_does_not_leave_as_a_loose_one(
    customer: Customer, lot: Lot, closed_box: ClosedBox, packer: User
) -> None:
    closed_box(("M1", 10))
    with pytest.raises(LotInBoxError):
        send(packer, lots=[LooseLot("M1.1")])


def test_a_lot_of_somebody_else_is_not_sold(
    customer: Customer, stock_of: StockOf, frog: Item, packer: User
) -> None:
    lot = stock_of(frog, 5, owner="A test customer", value_micro=0)
    with pytest.raises(LotNotOursError):
        send(packer, lots=[LooseLot(lot.code)])


def test_an_emptied_loose_lot_and_one_too_many_are_refused(
    customer: Customer, lot: Lot, packer: User
) -> None:
    with pytest.raises(LotShortError):
        send(packer, lots=[LooseLot("M1", 101)])
    send(packer, lots=[LooseLot("M1")])
    with pytest.raises(LotShortError):
        send(packer, lots=[LooseLot("M1")])


def test_a_customer_we_no_longer_sell_to_gets_nothing(
    customer: Customer, lot: Lot, packer: User
) -> None:
    change_customer(customer_code="HEN", changes={"is_active": False}, stamp=stamp_at(packer))
    with pytest.raises(NotActiveError):
        send(packer, lots=[LooseLot("M1", 1)])


def test_a_shipment_of_nothing_and_one_that_names_a_lot_twice_are_refused(
    customer: Customer, lot: Lot, packer: User
) -> None:
    with pytest.raises(NothingToDoError):
        send(packer)
    with pytest.raises(NamedTwiceError):
        send(packer, lots=[LooseLot("M1", 1), LooseLot("M1", 2)])


def test_an_order_must_be_open_and_the_customers_own(
    customer: Customer, lot: Lot, packer: User
) -> None:
    create_customer(code="OTTER", name="Another test customer", stamp=stamp_at(packer))
    order = enter_customer_order(
        customer_code="OTTER", lines=[OrderLine("MINNOW", 9, 1)], stamp=stamp_at(packer)
    )
    with pytest.raises(OrderOfOtherCustomerError):
        send(packer, lots=[LooseLot("M1", 1)], order_code=order.code)
    cancel_customer_order(order_code=order.code, stamp=stamp_at(packer))
    with pytest.raises(OrderNotOpenError):
        ship(
            customer_code="OTTER",
            order_code=order.code,
            lots=[LooseLot("M1", 1)],
            stamp=stamp_at(packer),
        )


def test_nothing_leaves_in_the_future_nor_before_it_was_packed(
    customer: Customer, lot: Lot, closed_box: ClosedBox, packer: User
) -> None:
    with pytest.raises(InFutureError):
        Stamp(by=packer, at=LATER + timedelta(seconds=1), now=LATER)
    box = closed_box(("M1", 10))
    with pytest.raises(LotNotThereYetError):
        send(packer, box, stamp=stamp_at(packer, TUESDAY - timedelta(seconds=1)))


def test_what_changed_between_looking_and_locking_is_refused() -> None:
    refuse_changed({1, 2}, {2, 1})
    with pytest.raises(BoxChangedError):
        refuse_changed({1, 2}, {1})


# --- Reversed ---


def test_a_reversed_shipment_is_back_in_its_closed_boxes_at_its_value(
    customer: Customer, lot: Lot, closed_box: ClosedBox, packer: User
) -> None:
    pallet = pack_box(contents=[], code="PALLET", stamp=stamp_at(packer))
    inner = closed_box(("M1", 10), parent_code="PALLET")
    close_box(box_code="PALLET", stamp=stamp_at(packer))
    order = enter_customer_order(
        customer_code="HEN", lines=[OrderLine("MINNOW", 10, 1)], stamp=stamp_at(packer)
    )
    shipment = send(packer, pallet, order_code=order.code)
    assert order_named(order.code).state == "closed"
    reverse_shipment(shipment_code=shipment.code, stamp=stamp_at(packer))
    assert moved("M1.1") == [(10, 10 * DOLLAR), (-10, -10 * DOLLAR), (10, 10 * DOLLAR)]
    assert (state_of(pallet), state_of(inner)) == ("closed", "closed")
    assert box_rows([box_named("PALLET")])[0].pieces == 10
    assert box_rows([box_named("PALLET")])[0].shipment == ""
    assert row_of(shipment).reversed_by.startswith("P-")
    assert order_named(order.code).state == "open"
    assert order_rows([order_named(order.code)])[0].lines[0].open == 10
    again = send(packer, pallet, order_code=order.code)
    assert box_rows([box_named("PALLET")])[0].shipment == again.code


def test_a_shipment_is_reversed_once_and_with_a_reason(
    customer: Customer, lot: Lot, packer: User
) -> None:
    shipment = send(packer, lots=[LooseLot("M1", 1)])
    with pytest.raises(ReasonMissingError):
        reverse_shipment(shipment_code=shipment.code, stamp=stamp_at(packer, reason=" "))
    reverse_shipment(shipment_code=shipment.code, stamp=stamp_at(packer))
    with pytest.raises(NotReversibleError):
        reverse_shipment(shipment_code=shipment.code, stamp=stamp_at(packer))


def test_a_shipment_of_which_pieces_came_back_is_not_reversed(
    customer: Customer, lot: Lot, packer: User
) -> None:
    shipment = send(packer, lots=[LooseLot("M1", 5)])
    back(packer, shipment, ("M1.1", 1))
    with pytest.raises(NotReversibleError) as refused:
        reverse_shipment(shipment_code=shipment.code, stamp=stamp_at(packer))
    assert refused.value.facts["stands_in_the_way"][0]["kind"] == "returned"  # type: ignore[index]


def test_a_reversed_lot_comes_under_a_hold_placed_while_it_was_away(
    customer: Customer, lot: Lot, packer: User
) -> None:
    shipment = send(packer, lots=[LooseLot("M1", 5)])
    hold = hold_lot(lot_code="M1", stamp=stamp_at(packer))
    assert Lot.objects.get(code="M1.1").disposition == "released"
    reverse_shipment(shipment_code=shipment.code, stamp=stamp_at(packer))
    assert Lot.objects.get(code="M1.1").disposition == "held"
    release_hold(hold_code=hold.code, stamp=stamp_at(packer))
    assert Lot.objects.get(code="M1.1").disposition == "released"


# --- Back ---


def test_pieces_come_back_quarantined_into_the_lot_that_left_with_their_share(
    customer: Customer, stock_of: StockOf, frog: Item, packer: User
) -> None:
    lot = stock_of(frog, 3, value_micro=100)
    shipment = send(packer, lots=[LooseLot(lot.code)])
    returned = back(packer, shipment, (lot.code, 1))
    assert (returned.posting.kind, returned.posting.outside_kind) == ("returned", "cost_of_goods")
    assert returned.posting.outside_micro == 33
    lot.refresh_from_db()
    assert (lot.on_hand_base, lot.value_micro, lot.disposition) == (1, 33, "quarantined")
    assert lot.place.code == "RETURNS"
    back(packer, shipment, (lot.code, 2))
    assert moved(lot.code) == [(3, 100), (-3, -100), (1, 33), (2, 67)]
    assert row_of(shipment).lines[0].returned == 3


def test_never_more_comes_back_than_left(customer: Customer, lot: Lot, packer: User) -> None:
    shipment = send(packer, lots=[LooseLot("M1", 5)])
    back(packer, shipment, ("M1.1", 2))
    with pytest.raises(ReturnTooLargeError) as refused:
        back(packer, shipment, ("M1.1", 4))
    assert refused.value.facts["lots"] == [{"lot": "M1.1", "still_out": 3, "wanted": 4}]
    back(packer, shipment, ("M1.1", 3))


def test_what_did_not_leave_does_not_come_back(customer: Customer, lot: Lot, packer: User) -> None:
    shipment = send(packer, lots=[LooseLot("M1", 5)])
    with pytest.raises(NotShippedError):
        back(packer, shipment, ("M1", 1))
    reverse_shipment(shipment_code=shipment.code, stamp=stamp_at(packer))
    with pytest.raises(ShipmentReversedError):
        back(packer, shipment, ("M1.1", 1))


def test_nothing_comes_back_before_it_left_nor_without_a_reason(
    customer: Customer, lot: Lot, packer: User
) -> None:
    shipment = send(packer, lots=[LooseLot("M1", 5)])
    with pytest.raises(InvalidInputError):
        back(
            packer,
            shipment,
            ("M1.1", 1),
            stamp=stamp_at(packer, TUESDAY - timedelta(seconds=1)),
        )
    with pytest.raises(ReasonMissingError):
        back(packer, shipment, ("M1.1", 1), stamp=stamp_at(packer, reason=""))


def test_pieces_of_one_lot_come_back_to_one_place(
    customer: Customer, lot: Lot, packer: User
) -> None:
    shipment = send(packer, lots=[LooseLot("M1", 5)])
    back(packer, shipment, ("M1.1", 1))
    with pytest.raises(LotElsewhereError):
        back(packer, shipment, ("M1.1", 1), place_code="SHELF")
    move_lot(lot_code="M1.1", place_code="SHELF", stamp=stamp_at(packer))
    back(packer, shipment, ("M1.1", 1), place_code="SHELF")


def test_returned_pieces_come_under_a_hold_placed_while_they_were_away(
    customer: Customer, lot: Lot, packer: User
) -> None:
    shipment = send(packer, lots=[LooseLot("M1", 5)])
    hold = hold_lot(lot_code="M1", stamp=stamp_at(packer))
    back(packer, shipment, ("M1.1", 1))
    assert Lot.objects.get(code="M1.1").disposition == "held"
    release_hold(hold_code=hold.code, stamp=stamp_at(packer))
    assert Lot.objects.get(code="M1.1").disposition == "quarantined"
    assert HeldLot.objects.filter(lot__code="M1.1").count() == 1


def test_a_returned_and_released_lot_is_sold_again(
    customer: Customer, lot: Lot, packer: User
) -> None:
    first = send(packer, lots=[LooseLot("M1", 5)])
    back(packer, first, ("M1.1", 2))
    release_lot(lot_code="M1.1", stamp=stamp_at(packer))
    second = send(packer, lots=[LooseLot("M1.1")])
    part = Lot.objects.get(code="M1.1")
    assert [
        (where.shipment, where.pieces, where.returned)
        for where in shipments_of_lots([part.pk])[part.pk]
    ] == [(first.code, 5, 2), (second.code, 2, 0)]


# --- Found ---


def test_lots_are_found_in_the_box_and_shipment_they_left_with(
    customer: Customer,
    lot: Lot,
    frogs: Lot,
    closed_box: ClosedBox,
    packer: User,
    django_assert_num_queries: Callable[[int], CaptureQueriesContext],
) -> None:
    box = closed_box(("M1", 24), ("F1", 3))
    shipment = send(packer, box)
    ids = [Lot.objects.get(code=code).pk for code in ("M1.1", "F1.1")]
    with django_assert_num_queries(2):
        where = shipments_of_lots([*ids, lot.pk])
    assert {lot_id: found[0].shipment for lot_id, found in where.items()} == dict.fromkeys(
        ids, shipment.code
    )
    assert {found[0].code for found in boxes_of_lots(ids).values()} == {box.code}


def test_a_shipment_takes_the_same_statements_for_any_number_of_lots_and_boxes(
    customer: Customer,
    stock_of: StockOf,
    minnow: Item,
    closed_box: ClosedBox,
    packer: User,
) -> None:
    for number in range(8):
        stock_of(minnow, 5, lot_code=f"N{number}")
    small = [closed_box(("N0", None))]
    large = [closed_box(("N1", None), ("N2", None), ("N3", 2)), closed_box(("N4", None))]

    def statements(boxes: list[Box]) -> int:
        with CaptureQueriesContext(connection) as caught:
            send(packer, *boxes, stamp=stamp_at(packer, LATER))
        return len(caught)

    assert statements(small) == statements(large)


def test_rows_of_any_number_of_shipments_take_two_statements(
    customer: Customer,
    lot: Lot,
    packer: User,
    django_assert_num_queries: Callable[[int], CaptureQueriesContext],
) -> None:
    for pieces in (1, 2, 3):
        send(packer, lots=[LooseLot("M1", pieces)])
    found = list(shipments())
    with django_assert_num_queries(2):
        rows = shipment_rows(found)
    assert [row.lines[0].pieces for row in rows] == [1, 2, 3]


class NothingAppearsOrVanishes(TestCase):
    """Whatever is packed, shipped and sent back: pieces and value add up with what went outside."""

    @settings(max_examples=25, deadline=None)
    @given(
        pieces=st.integers(2, 500),
        value_micro=st.integers(0, 10**9),
        boxed_of_1000=st.integers(1, 999),
        backs=st.lists(st.integers(1, 60), max_size=4),
        is_taken_out_first=st.booleans(),
    )
    def test_pieces_and_value_add_up(  # noqa: D102 - its name says it
        self,
        pieces: int,
        value_micro: int,
        boxed_of_1000: int,
        backs: list[int],
        is_taken_out_first: bool,  # noqa: FBT001 - hypothesis names it
    ) -> None:
        packer = _shop_with_a_lot(pieces, value_micro)
        boxed = max(1, pieces * boxed_of_1000 // 1000)
        box = pack_box(contents=[Part("M1", boxed)], stamp=stamp_at(packer))
        part = "M1.1" if boxed < pieces else "M1"
        if is_taken_out_first and boxed > 1:
            take_out_of_box(
                box_code=box.code,
                contents=[Part(part, 1)],
                place_code="RETURNS",
                stamp=stamp_at(packer),
            )
            boxed -= 1
        close_box(box_code=box.code, stamp=stamp_at(packer))
        shipment = send(packer, box)
        out = boxed
        for wanted in backs:
            if wanted <= out:
                back(packer, shipment, (part, wanted))
                out -= wanted
        lots = list(Lot.objects.all())
        assert sum(lot.on_hand_base for lot in lots) == pieces - out
        outside = sum(
            Posting.objects.filter(outside_kind="cost_of_goods").values_list(
                "outside_micro", flat=True
            )
        )
        assert sum(lot.value_micro for lot in lots) == value_micro + outside
        # Where all came back, all the value did.
        assert out > 0 or outside == 0


def _shop_with_a_lot(pieces: int, value_micro: int) -> User:
    create_first_owner(username="olga", display_name="Olga", password="seven wet otters", at=MONDAY)
    owner = person_named("olga")
    for code in ("SHELF", "RETURNS"):
        create_place(code=code, fields={"name": code, "kind": "shelf"}, by=owner, at=MONDAY)
    create_item(
        code="MINNOW",
        fields={
            "name": "Minnow",
            "kind": "lure",
            "dimension": "count",
            "display_unit": "each",
            "storage_place": "SHELF",
        },
        by=owner,
        at=MONDAY,
    )
    take_in_opening_lots(
        lots=[
            OpeningLot(item_code="MINNOW", qty_base=pieces, value_micro=value_micro, lot_code="M1")
        ],
        stamp=stamp_at(owner, MONDAY),
    )
    create_customer(code="HEN", name="A test customer", stamp=stamp_at(owner, MONDAY))
    return owner
