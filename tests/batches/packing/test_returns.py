"""What comes back: shipments reversed, pieces returned, and that nothing vanishes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from batches.packing.errors import (
    LotElsewhereError,
    NotShippedError,
    ReturnTooLargeError,
    ShipmentReversedError,
)
from batches.packing.models import Customer
from batches.packing.operations import (
    LooseLot,
    OrderLine,
    Part,
    close_box,
    create_customer,
    enter_customer_order,
    pack_box,
    reverse_shipment,
    take_out_of_box,
)
from batches.packing.selectors import (
    box_named,
    box_rows,
    customer_returns,
    order_named,
    order_rows,
    return_rows,
    shipment_named,
    shipment_rows,
)
from inventory.catalog.models import Item
from inventory.catalog.operations import create_item, create_place
from inventory.stock.errors import NotReversibleError
from inventory.stock.models import HeldLot, Lot, Posting
from inventory.stock.operations import (
    OpeningLot,
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
from shopfloor.stamp import ReasonMissingError
from tests.batches.packing.conftest import MONDAY, TUESDAY, StockOf, stamp_at
from tests.batches.packing.sending import (
    DOLLAR,
    ClosedBox,
    back,
    moved,
    row_of,
    send,
    state_of,
)
from tests.examples import ledgers

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
    assert box_rows([box_named("PALLET")])[0].shipment is None
    assert (row_of(shipment).reversed_by or "").startswith("P-")
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


def test_the_end_of_a_hold_placed_on_the_empty_lot_does_not_release_what_came_back(
    customer: Customer, lot: Lot, packer: User
) -> None:
    shipment = send(packer, lots=[LooseLot("M1", 5)])
    hold = hold_lot(lot_code="M1.1", stamp=stamp_at(packer))
    back(packer, shipment, ("M1.1", 1))
    release_hold(hold_code=hold.code, stamp=stamp_at(packer))
    came_back = Lot.objects.get(code="M1.1")
    assert came_back.disposition == "held"
    assert release_lot(lot_code="M1.1", stamp=stamp_at(packer)).disposition == "released"


def test_a_returned_and_released_lot_is_sold_again(
    customer: Customer, lot: Lot, packer: User
) -> None:
    first = send(packer, lots=[LooseLot("M1", 5)])
    back(packer, first, ("M1.1", 2))
    release_lot(lot_code="M1.1", stamp=stamp_at(packer))
    second = send(packer, lots=[LooseLot("M1.1")])
    assert [
        (line.pieces, line.returned)
        for row in shipment_rows([shipment_named(first.code), shipment_named(second.code)])
        for line in row.lines
    ] == [(5, 2), (2, 0)]


def test_rows_of_any_number_of_returns_take_one_statement(
    customer: Customer,
    lot: Lot,
    packer: User,
    django_assert_num_queries: Callable[[int], CaptureQueriesContext],
) -> None:
    shipment = send(packer, lots=[LooseLot("M1", 5)])
    for pieces in (1, 2):
        back(packer, shipment, ("M1.1", pieces))
    found = list(customer_returns().order_by("pk"))
    with django_assert_num_queries(1):
        rows = return_rows(found)
    assert [(row.shipment, row.customer, row.lines[0].pieces) for row in rows] == [
        (shipment.code, "HEN", 1),
        (shipment.code, "HEN", 2),
    ]


class NothingAppearsOrVanishes(TestCase):
    """Whatever is packed, shipped and sent back: pieces and value add up with what went outside."""

    @ledgers(25)
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
