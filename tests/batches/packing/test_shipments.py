"""What leaves: amounts, values, boxes, prices, refusals."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches.packing.errors import (
    BoxChangedError,
    BoxEmptyError,
    BoxInBoxError,
    BoxNotClosedError,
    BoxShippedError,
    LotInBoxError,
    OrderOfOtherCustomerError,
)
from batches.packing.models import Box, Customer, CustomerOrder
from batches.packing.operations import (
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
    ship,
)
from batches.packing.selectors import (
    box_named,
    box_rows,
    shipment_rows,
    shipments,
)
from batches.packing.steps.boxes import refuse_changed
from batches.runs.errors import LotNotOursError, NamedTwiceError
from inventory.catalog.errors import NotActiveError
from inventory.catalog.models import Item
from inventory.purchasing.errors import OrderNotOpenError, PriceMissingError
from inventory.stock.errors import (
    LotExpiredError,
    LotHeldError,
    LotNotThereYetError,
    LotShortError,
    NothingToDoError,
)
from inventory.stock.models import Lot, Posting
from inventory.stock.operations import (
    dispose_of_lot,
    hold_lot,
)
from shopfloor.models import User
from shopfloor.stamp import InFutureError, Stamp
from tests.batches.packing.conftest import LATER, TUESDAY, StockOf, stamp_at
from tests.batches.packing.sending import (
    DOLLAR,
    ClosedBox,
    moved,
    row_of,
    send,
    state_of,
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
        ],
    )
    lines = [(line.lot, line.price_micro, line.purpose) for line in row_of(shipment).lines]
    assert lines == [
        ("M1.1", 6 * DOLLAR, "sale"),
        ("M2.1", 7 * DOLLAR, "sale"),
        ("F1.1", 3 * DOLLAR, "sample"),
    ]
    assert shipment.posting.document_code == order.code


@pytest.fixture
def order(customer: Customer, lot: Lot, packer: User) -> CustomerOrder:
    """Ten minnows at 7.00 and ten at 6.00."""
    return enter_customer_order(
        customer_code="HEN",
        lines=[OrderLine("MINNOW", 10, 7 * DOLLAR), OrderLine("MINNOW", 10, 6 * DOLLAR)],
        stamp=stamp_at(packer),
    )


def test_the_orders_price_is_that_of_the_line_that_the_lot_answers(
    order: CustomerOrder, packer: User
) -> None:
    first, second = (
        send(packer, lots=[LooseLot("M1", 10)], prices=[], order_code=order.code) for _ in range(2)
    )
    lines = [row_of(shipment).lines[0] for shipment in (first, second)]
    assert [(line.order_line, line.price_micro) for line in lines] == [
        (1, 7 * DOLLAR),
        (2, 6 * DOLLAR),
    ]


def test_a_lot_that_answers_lines_of_different_prices_needs_one_of_its_own(
    order: CustomerOrder, packer: User
) -> None:
    with pytest.raises(PriceMissingError) as refused:
        send(packer, lots=[LooseLot("M1", 11)], prices=[], order_code=order.code)
    assert refused.value.facts["order_lines"] == [1, 2]
    send(packer, lots=[LooseLot("M1", 11, 7 * DOLLAR)], prices=[], order_code=order.code)


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


# --- Statements ---


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
