"""Customers, and their orders from entry to end."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.test.utils import CaptureQueriesContext

from batches.packing.errors import NotPiecesError, OrderShippedError
from batches.packing.models import Customer, CustomerOrder
from batches.packing.operations import (
    LooseLot,
    OrderLine,
    Purpose,
    cancel_customer_order,
    change_customer,
    close_customer_order,
    create_customer,
    enter_customer_order,
    ship,
)
from batches.packing.selectors import (
    OrderRow,
    customer_orders,
    order_named,
    order_rows,
    promised_base,
)
from inventory.catalog.errors import DuplicateCodeError, NotActiveError
from inventory.catalog.models import Item
from inventory.purchasing.errors import DateImpossibleError, OrderNotOpenError
from inventory.stock.models import Lot
from shopfloor.days import shop_day
from shopfloor.errors import NotFoundError
from shopfloor.models import Change, User
from shopfloor.stamp import ReasonMissingError
from tests.batches.packing.conftest import LATER, stamp_at

DOLLAR = 1_000_000


def enter_order(packer: User, *lines: tuple[str, int], **given: Any) -> CustomerOrder:
    return enter_customer_order(
        customer_code="HEN",
        lines=[OrderLine(item, pieces, 8 * DOLLAR) for item, pieces in lines],
        stamp=stamp_at(packer),
        **given,
    )


def row_of(order: CustomerOrder) -> OrderRow:
    return order_rows([order_named(order.code)])[0]


def shipped_open(order: CustomerOrder) -> list[tuple[int, int, bool]]:
    return [(line.shipped, line.open, line.is_closed) for line in row_of(order).lines]


def ship_loose(packer: User, order: CustomerOrder, *lots: LooseLot, **given: Any) -> None:
    ship(customer_code="HEN", order_code=order.code, lots=lots, stamp=stamp_at(packer), **given)


def test_a_change_of_a_customer_is_audited(customer: Customer, packer: User) -> None:
    change_customer(customer_code="HEN", changes={"address": "2 Dock St"}, stamp=stamp_at(packer))
    kept = Change.objects.filter(row_code="HEN").order_by("-pk")[0]
    assert (kept.before, kept.after) == ({"address": ""}, {"address": "2 Dock St"})
    assert kept.by == packer


def test_a_customer_code_is_taken_once(customer: Customer, packer: User) -> None:
    with pytest.raises(DuplicateCodeError):
        create_customer(code="hen", name="Another", stamp=stamp_at(packer))


def test_an_unknown_customer_is_not_changed(packer: User) -> None:
    with pytest.raises(NotFoundError):
        change_customer(customer_code="NOBODY", changes={"name": "X"}, stamp=stamp_at(packer))


def test_an_order_gets_a_code_and_the_day_it_is_entered(
    customer: Customer, minnow: Item, packer: User
) -> None:
    order = enter_order(packer, ("MINNOW", 24))
    assert order.code.startswith("T-")
    assert order.ordered_on == shop_day(LATER)
    assert shipped_open(order) == [(0, 24, False)]


def test_an_order_of_tomorrow_is_refused(customer: Customer, minnow: Item, packer: User) -> None:
    assert enter_order(packer, ("MINNOW", 1), ordered_on=shop_day(LATER)).pk
    with pytest.raises(DateImpossibleError):
        enter_order(packer, ("MINNOW", 1), ordered_on=shop_day(LATER) + timedelta(days=1))


def test_nothing_is_promised_before_it_was_ordered(
    customer: Customer, minnow: Item, packer: User
) -> None:
    def promise(day: date) -> CustomerOrder:
        line = OrderLine("MINNOW", 1, 8 * DOLLAR, promised_on=day)
        return enter_customer_order(
            customer_code="HEN",
            lines=[line],
            ordered_on=date(2026, 3, 2),
            stamp=stamp_at(packer),
        )

    assert promise(date(2026, 3, 2)).pk
    with pytest.raises(DateImpossibleError):
        promise(date(2026, 3, 1))


def test_an_order_code_is_taken_once(customer: Customer, minnow: Item, packer: User) -> None:
    enter_order(packer, ("MINNOW", 1), code="PO-77")
    with pytest.raises(DuplicateCodeError):
        enter_order(packer, ("MINNOW", 1), code="PO-77")


def test_an_order_of_an_unknown_item_is_refused(customer: Customer, packer: User) -> None:
    with pytest.raises(NotFoundError):
        enter_order(packer, ("MINNOW", 1))


def test_an_order_of_paint_by_the_milliliter_is_refused(
    customer: Customer, item_of: Callable[..., Item], packer: User
) -> None:
    item_of("PAINT", kind="paint", dimension="volume", display_unit="mL")
    with pytest.raises(NotPiecesError):
        enter_order(packer, ("PAINT", 1))


def test_a_customer_we_no_longer_sell_to_orders_nothing(
    customer: Customer, minnow: Item, packer: User
) -> None:
    change_customer(customer_code="HEN", changes={"is_active": False}, stamp=stamp_at(packer))
    with pytest.raises(NotActiveError):
        enter_order(packer, ("MINNOW", 1))


def test_what_is_shipped_answers_the_first_line_first(
    customer: Customer, lot: Lot, packer: User
) -> None:
    order = enter_order(packer, ("MINNOW", 10), ("MINNOW", 20))
    ship_loose(packer, order, LooseLot("M1", 15))
    assert shipped_open(order) == [(10, 0, True), (5, 15, False)]
    assert row_of(order).state == "open"


def test_an_order_closes_with_its_last_piece(customer: Customer, lot: Lot, packer: User) -> None:
    order = enter_order(packer, ("MINNOW", 10))
    ship_loose(packer, order, LooseLot("M1", 9))
    assert row_of(order).state == "open"
    ship_loose(packer, order, LooseLot("M1", 1))
    assert row_of(order).state == "closed"
    assert shipped_open(order) == [(10, 0, True)]


def test_replacements_and_free_pieces_answer_no_order(
    customer: Customer, lot: Lot, packer: User
) -> None:
    order = enter_order(packer, ("MINNOW", 10))
    ship_loose(packer, order, LooseLot("M1", 4), purpose=Purpose.REPLACEMENT)
    ship_loose(packer, order, LooseLot("M1", 3), purpose=Purpose.FREE)
    assert shipped_open(order) == [(0, 10, False)]
    ship_loose(packer, order, LooseLot("M1", 2), purpose=Purpose.SAMPLE)
    assert shipped_open(order) == [(2, 8, False)]


def test_promised_is_what_open_orders_still_wait_for(
    customer: Customer, lot: Lot, frog: Item, packer: User
) -> None:
    first = enter_order(packer, ("MINNOW", 10), ("FROG", 5))
    enter_order(packer, ("MINNOW", 7))
    ship_loose(packer, first, LooseLot("M1", 12))  # two too many help no other order
    assert promised_base() == {lot.item_id: 7, frog.pk: 5}
    close_customer_order(order_code=first.code, stamp=stamp_at(packer))
    assert promised_base() == {lot.item_id: 7}


def test_an_order_is_closed_by_hand_once(customer: Customer, minnow: Item, packer: User) -> None:
    order = enter_order(packer, ("MINNOW", 10))
    with pytest.raises(ReasonMissingError):
        close_customer_order(order_code=order.code, stamp=stamp_at(packer, reason=" "))
    close_customer_order(order_code=order.code, stamp=stamp_at(packer, reason="changed his mind"))
    assert shipped_open(order) == [(0, 0, True)]
    kept = Change.objects.filter(row_code=order.code).latest("pk")
    assert kept.after == {"state": "closed", "reason": "changed his mind"}
    with pytest.raises(OrderNotOpenError):
        close_customer_order(order_code=order.code, stamp=stamp_at(packer))


def test_an_order_is_cancelled_only_while_nothing_was_shipped(
    customer: Customer, lot: Lot, packer: User
) -> None:
    untouched = enter_order(packer, ("MINNOW", 10))
    started = enter_order(packer, ("MINNOW", 10))
    ship_loose(packer, started, LooseLot("M1", 1))
    with pytest.raises(ReasonMissingError):
        cancel_customer_order(order_code=untouched.code, stamp=stamp_at(packer, reason=""))
    cancel_customer_order(order_code=untouched.code, stamp=stamp_at(packer))
    assert row_of(untouched).state == "cancelled"
    with pytest.raises(OrderShippedError):
        cancel_customer_order(order_code=started.code, stamp=stamp_at(packer))


def test_rows_of_any_number_of_orders_take_two_statements(
    customer: Customer,
    minnow: Item,
    packer: User,
    django_assert_num_queries: Callable[[int], CaptureQueriesContext],
) -> None:
    for pieces in range(1, 5):
        enter_order(packer, ("MINNOW", pieces), ordered_on=date(2026, 3, pieces))
    orders = list(customer_orders())
    with django_assert_num_queries(2):
        assert [row.lines[0].open for row in order_rows(orders)] == [1, 2, 3, 4]
    with django_assert_num_queries(1):
        assert set(promised_base().values()) == {10}
