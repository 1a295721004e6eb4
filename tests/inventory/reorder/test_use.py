"""Use a day out of the ledger: which postings, which day, how long a history."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.catalog.models import Item, Offer, Place
from inventory.purchasing.operations import receive_delivery, reverse_receipt
from inventory.purchasing.steps import ReceiptLineDraft
from inventory.stock.operations import (
    OpeningLot,
    adjust_lot,
    dispose_of_lot,
    move_lot,
    split_off,
    take_in_opening_lots,
)
from shopfloor.fields import Amount
from shopfloor.models import User
from tests.inventory.conftest import LATER, NOON, stamp_at
from tests.inventory.reorder.conftest import (
    FIRST_DAY,
    TODAY,
    hold_lot_of,
    mix,
    page_of,
    shop_time,
    undo,
    use,
    used_on,
)

YESTERDAY = TODAY - timedelta(days=1)


def test_half_past_eleven_at_night_belongs_to_the_shops_day_and_not_to_that_of_utc(
    lead: User, hook: Item
) -> None:
    hold_lot_of(lead, 1000, at=NOON)
    last_of_winter, next_day = FIRST_DAY + timedelta(days=5), FIRST_DAY + timedelta(days=6)
    use(lead, 10, shop_time(last_of_winter, 23, 30))  # 05:30 UTC of the next day
    use(lead, 20, shop_time(next_day, 0, 0))
    use(lead, 30, shop_time(next_day, 23, 30))  # clocks went forward: 04:30 UTC
    use(lead, 40, shop_time(YESTERDAY, 23, 59))
    assert next_day.isoformat() == "2026-03-08"
    assert used_on(page_of()) == {"2026-03-07": 10, "2026-03-08": 50, "2026-03-31": 40}


def test_today_is_not_over_and_so_no_history(lead: User, hook: Item) -> None:
    hold_lot_of(lead, 1000, at=NOON)
    use(lead, 10, shop_time(YESTERDAY, 23, 30))
    use(lead, 20, shop_time(TODAY, 0, 0))
    page = page_of()
    assert used_on(page) == {"2026-03-31": 10}
    assert (page.history_from, page.history_days) == (FIRST_DAY, 30)


def test_days_before_the_first_movement_are_no_history(lead: User, hook: Item) -> None:
    hold_lot_of(lead, 1000, at=shop_time(TODAY - timedelta(days=3), 23, 30))
    use(lead, 5, shop_time(YESTERDAY, 9))
    page = page_of()
    assert page.row.inputs.use_base_by_day.tolist() == [0, 0, 5]
    assert page.history_from == TODAY - timedelta(days=3)


def test_an_item_that_came_in_today_has_no_history(lead: User, hook: Item) -> None:
    hold_lot_of(lead, 1000, at=shop_time(TODAY, 0, 30))
    page = page_of()
    assert (page.history_days, page.history_from, page.used) == (0, None, [])


def test_a_window_keeps_its_first_day_and_drops_the_one_before(lead: User, hook: Item) -> None:
    hold_lot_of(lead, 1000, at=NOON)
    use(lead, 1, shop_time(TODAY - timedelta(days=8), 23, 59))
    use(lead, 2, shop_time(TODAY - timedelta(days=7), 0, 0))
    assert page_of(window_days=7).row.inputs.use_base_by_day.tolist() == [2, 0, 0, 0, 0, 0, 0]


def test_what_is_taken_from_several_lots_of_an_item_in_a_day_adds_up(
    lead: User, hook: Item
) -> None:
    hold_lot_of(lead, 100, code="ONE", at=NOON)
    hold_lot_of(lead, 100, code="TWO", at=NOON)
    use(lead, 30, shop_time(YESTERDAY, 8), lot="ONE")
    use(lead, 40, shop_time(YESTERDAY, 9), lot="TWO")
    use(lead, 50, shop_time(YESTERDAY, 10), lot="ONE")
    assert used_on(page_of()) == {"2026-03-31": 120}


def test_disposing_adjusting_splitting_and_moving_are_not_use(
    lead: User, hook: Item, incoming: Place
) -> None:
    lot = hold_lot_of(lead, 1000, at=NOON)
    at = NOON + timedelta(days=1)
    because = stamp_at(lead, at, reason="for the test")
    dispose_of_lot(lot_code=lot, qty_base=10, stamp=because)
    adjust_lot(lot_code=lot, qty_base=-20, stamp=because)
    split_off(lot_code=lot, qty_base=30, place_code="", stamp=because)
    move_lot(lot_code=lot, place_code="INCOMING", qty_base=40, stamp=because)
    page = page_of()
    assert page.used == []
    assert page.row.usable_base == 970


def test_a_reversed_use_never_happened(lead: User, hook: Item) -> None:
    hold_lot_of(lead, 1000, at=NOON)
    wrong = use(lead, 500, shop_time(YESTERDAY, 9))
    use(lead, 50, shop_time(YESTERDAY, 10))
    undo(posting=wrong, stamp=stamp_at(lead, shop_time(YESTERDAY, 11)))
    assert used_on(page_of()) == {"2026-03-31": 50}


def test_mixing_lots_of_one_item_to_a_lot_of_the_same_uses_nothing(lead: User, resin: Item) -> None:
    hold_lot_of(lead, 600, code="BAG-1", item="RESIN", at=NOON)
    hold_lot_of(lead, 400, code="BAG-2", item="RESIN", at=NOON)
    at = shop_time(YESTERDAY, 9)
    bags = ["BAG-1", "BAG-2"]
    mix(lot_codes=bags, into_code="BLEND", into=resin, stamp=stamp_at(lead, at))
    use(lead, 250, at, lot="BLEND")
    page = page_of("RESIN")
    assert used_on(page) == {"2026-03-31": 250}
    assert page.row.usable_base == 750


def test_mixing_uses_what_goes_in_and_not_what_comes_out(
    lead: User, resin: Item, paint: Item
) -> None:
    hold_lot_of(lead, 600, code="CAN", item="PAINT-RED", at=NOON)
    hold_lot_of(lead, 400, code="BAG", item="RESIN", at=NOON)
    stamp = stamp_at(lead, shop_time(YESTERDAY, 9))
    mix(lot_codes=["CAN"], into_code="CUP", into=resin, stamp=stamp)
    assert used_on(page_of("PAINT-RED")) == {"2026-03-31": 600}
    assert page_of("RESIN").row.inputs.use_base_by_day.tolist() == [0] * 30


def test_what_a_customer_gave_us_to_use_is_neither_our_use_nor_our_stock(
    lead: User, hook: Item
) -> None:
    theirs = OpeningLot(
        item_code="HOOK-6", qty_base=500, value_micro=0, lot_code="THEIRS", owner="A customer"
    )
    take_in_opening_lots(lots=[theirs], stamp=stamp_at(lead, NOON))
    use(lead, 100, shop_time(YESTERDAY, 9), lot="THEIRS")
    page = page_of()
    assert (page.history_days, page.used) == (0, [])
    assert (page.row.position_base, page.row.stock.others_base) == (0, 400)
    hold_lot_of(lead, 10, code="OURS", at=NOON)
    page = page_of()
    assert (page.history_days, page.used, page.row.position_base) == (30, [], 10)


def test_a_delivery_that_was_written_down_wrongly_begins_no_history(
    lead: User, hook_offer: Offer
) -> None:
    line = ReceiptLineDraft(
        item_code="HOOK-6", amount=Amount(Decimal(1000), "each"), value_micro=45_000_000
    )
    slip = receive_delivery(supplier_code="HOOKS", lines=[line], stamp=stamp_at(lead, NOON))
    again = stamp_at(lead, NOON + timedelta(days=10), reason="wrong item")
    reverse_receipt(receipt_code=slip.code, stamp=again)
    assert page_of().history_days == 0
    hold_lot_of(lead, 1000, at=NOON + timedelta(days=20))
    assert page_of().history_days == 10


@pytest.mark.parametrize("days", [1, 365, 3650])
def test_a_window_may_be_a_day_or_ten_years(lead: User, hook: Item, days: int) -> None:
    hold_lot_of(lead, 1000, at=NOON)
    use(lead, 7, shop_time(YESTERDAY, 9))
    assert used_on(page_of(window_days=days)) == {"2026-03-31": 7}


def test_the_day_of_the_tests_is_the_day_of_the_stamps(lead: User) -> None:
    assert LATER.date() == TODAY
