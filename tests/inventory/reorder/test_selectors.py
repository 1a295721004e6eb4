"""The reorder list: figures worked out by hand, what counts, and what is urgent."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from inventory.catalog.models import Item, Offer, Supplier
from inventory.catalog.operations import (
    change_item,
    create_offer,
    create_supplier,
)
from inventory.purchasing.models import SupplierOrder
from inventory.purchasing.operations import place_supplier_order, receive_delivery
from inventory.purchasing.steps import OrderLineDraft, ReceiptLineDraft
from inventory.reorder.selectors import reorder_list, why
from inventory.stock.operations import (
    OpeningLot,
    hold_lot,
    open_lot,
    reject_lot,
    take_in_opening_lots,
)
from shopfloor.days import day_end
from shopfloor.fields import Amount
from shopfloor.models import User
from tests.inventory.conftest import NOON, stamp_at
from tests.inventory.reorder.conftest import (
    A_THOUSAND,
    FIRST_DAY,
    TODAY,
    hold_lot_of,
    hooks_used_daily,
    offer_hooks,
    page_of,
    row_of,
    set_policy,
    shop_time,
    use_every_day,
)

# Figures


def test_an_order_is_advised_with_the_figures_worked_out_by_hand(
    lead: User, hook_offer: Offer
) -> None:
    # Mean 100, variance 30 x 10^2 / 29 = 103.448; of a mean of 30 days, over 70 + 7: 77 x 103.448 x
    # (1 + 77/30) = 168.54^2. The quote of 70 days spreads by a fifth, and half as much again in
    # variance as nobody delivered yet: 17.146 days of 100. Together 7,700 and 1,722.9; 1.644854 of
    # it 2,833.9. Packs a year 36.525, 25.00 an order, a quarter of 40.00 a year: the root of
    # 2 x 36.525 x 25 / 10 = 13.51, in whole packs 14.
    hooks_used_daily(lead, 10_534)
    set_policy(lead, service="cycle", service_level=Decimal("0.95"))
    row = row_of("HOOK-6")
    assert row.use_per_day == Decimal(100)
    assert row.use_per_day_sd == Decimal("10.171")
    assert (row.lead_time_days, row.lead_time_source) == (Decimal(70), "quoted")
    assert (row.safety_stock_base, row.reorder_point_base) == (2834, 10_534)
    assert row.is_due
    assert (row.suggested_packs, row.suggested_base) == (14, 14_000)
    assert row.suggested_value_micro == 560_000_000
    # 10,534 less 7,000 in the lead time less 2,834: seven days, the review, are left.
    assert (row.days_left, row.order_by) == (7, date(2026, 4, 8))
    assert why(row)[:5] == [
        "Position 10,534 pieces: 10,534 pieces usable on hand.",
        "Use 100 pieces a day, standard deviation 10.171.",
        (
            "Reorder point 10,534 pieces: 7,700 pieces for 77 days of lead time and review, "
            "2,834 pieces safety stock."
        ),
        "Last day to order: 2026-04-08, in 7 days.",
        "Order 14 packs of 1,000 pieces from HOOKS: 14,000 pieces for 560.00.",
    ]


def test_one_above_the_reorder_point_is_not_due(lead: User, hook_offer: Offer) -> None:
    hooks_used_daily(lead, 10_535)
    set_policy(lead, service="cycle", service_level=Decimal("0.95"))
    row = row_of("HOOK-6")
    assert (row.is_due, row.suggested_packs, row.suggested_value_micro) == (False, 0, 0)
    assert row.order_by == date(2026, 4, 8)


def test_amounts_are_said_in_the_unit_people_see(
    lead: User, supplier: Supplier, resin: Item
) -> None:
    bag = Amount(Decimal(50), "lb")
    create_offer(
        supplier_code="HOOKS",
        item_code="RESIN",
        pack=bag,
        fields={"lead_time_days": 14},
        by=lead,
        at=NOON,
    )
    # 10 lb on each of ten days, nothing on the other twenty: mean 3.33, standard deviation 4.79.
    # Over 21 days 70 and 22.0, so 106.1 lb; with a week's use 129.5, in bags 150.
    hold_lot_of(lead, 45_359_240, code="BAGS", item="RESIN", at=NOON)
    use_every_day(lead, [4_535_924] * 10, lot="BAGS")
    row = row_of("RESIN")
    assert (row.use_per_day, row.use_per_day_sd) == (Decimal("3.33333"), Decimal("4.79463"))
    assert why(row)[0] == "Position 0 lb: 0 lb usable on hand."
    assert "Order 3 packs of 50 lb from HOOKS: 150 lb without a known price." in why(row)


# What counts in the position


def test_what_waits_for_its_test_counts_and_what_is_held_rejected_or_expired_does_not(
    lead: User, paint: Item
) -> None:
    set_policy(lead, "PAINT-RED", reorder_point=Amount(Decimal(1), "L"))
    lots: list[tuple[str, int, dict[str, Any]]] = [
        ("GOOD", 1, {}),
        ("WAITS", 20, {"disposition": "quarantined"}),
        ("HELD", 300, {}),
        ("REJECTED", 4000, {"disposition": "quarantined"}),
        ("LAST-DAY", 50_000, {"expires_at": day_end(TODAY)}),
        ("EXPIRED", 600_000, {"expires_at": day_end(TODAY - timedelta(days=1))}),
        ("THEIRS", 7_000_000, {"owner": "A customer"}),
    ]
    for code, qty_base, fields in lots:
        lot = OpeningLot(
            item_code="PAINT-RED", qty_base=qty_base, value_micro=0, lot_code=code, **fields
        )
        take_in_opening_lots(lots=[lot], stamp=stamp_at(lead))
    hold_lot(lot_code="HELD", stamp=stamp_at(lead, reason="for the test"))
    reject_lot(lot_code="REJECTED", stamp=stamp_at(lead, reason="for the test"))
    row = row_of("PAINT-RED")
    assert (row.usable_base, row.quarantined_base) == (50_001, 20)
    stock = row.stock
    assert (stock.held_base, stock.rejected_base, stock.expired_base) == (300, 4000, 600_000)
    assert stock.others_base == 7_000_000


def test_a_bottle_that_must_go_today_is_not_counted_on(lead: User, paint: Item) -> None:
    change_item(code="PAINT-RED", fields={"opened_life_minutes": 60}, by=lead, at=NOON)
    hold_lot_of(lead, 500, code="BOTTLE", item="PAINT-RED", at=NOON)
    assert page_of("PAINT-RED", on=FIRST_DAY).row.usable_base == 500
    open_lot(lot_code="BOTTLE", stamp=stamp_at(lead))
    row = page_of("PAINT-RED", on=FIRST_DAY).row
    assert (row.usable_base, row.stock.expired_base) == (0, 500)


def paint_used_daily(lead: User, *lots: tuple[str, int, date]) -> None:
    """A liter a day for thirty days, 14 days to get more, and lots with their last day."""
    create_supplier(code="PAINTS", fields={"name": "The paint supplier"}, by=lead, at=NOON)
    create_offer(
        supplier_code="PAINTS",
        item_code="PAINT-RED",
        pack=Amount(Decimal(1), "L"),
        fields={"lead_time_days": 14},
        by=lead,
        at=NOON,
    )
    hold_lot_of(lead, 30_000_000, code="USED", item="PAINT-RED", at=NOON)
    use_every_day(lead, [1_000_000] * 30, lot="USED")
    for code, liters, last_day in lots:
        lot = OpeningLot(
            item_code="PAINT-RED",
            qty_base=liters * 1_000_000,
            value_micro=0,
            lot_code=code,
            expires_at=day_end(last_day),
        )
        take_in_opening_lots(lots=[lot], stamp=stamp_at(lead))


def test_paint_that_expires_before_it_can_be_used_does_not_hide_that_it_is_time_to_order(
    lead: User, paint: Item
) -> None:
    # Position 40 against a point below 30: not due, but in five days only 5 of the 40 liters are
    # used.
    paint_used_daily(lead, ("OLD", 40, TODAY + timedelta(days=5)))
    row = row_of("PAINT-RED")
    assert (row.usable_base, row.expiring_base) == (40_000_000, 35_000_000)
    assert row.reorder_point_base is not None
    assert row.position_base == 5_000_000 < row.reorder_point_base < 30_000_000
    assert (row.is_due, row.days_left) == (True, 0)
    assert why(row)[0] == (
        "Position 5,000 mL: 40,000 mL usable on hand, "
        "less 35,000 mL that expires before it can be used."
    )


def test_what_expires_after_lead_time_and_review_is_still_counted_on(
    lead: User, paint: Item
) -> None:
    paint_used_daily(
        lead, ("AT-21", 30, TODAY + timedelta(days=21)), ("AT-22", 40, TODAY + timedelta(days=22))
    )
    row = row_of("PAINT-RED")
    assert (row.expiring_base, row.position_base) == (9_000_000, 61_000_000)


# On order and lead times


def order_of(lead: User, packs: int, ordered_on: date, supplier: str = "HOOKS") -> SupplierOrder:
    return place_supplier_order(
        supplier_code=supplier,
        lines=[
            OrderLineDraft(
                item_code="HOOK-6", packs=packs, pack=A_THOUSAND, pack_price_micro=40_000_000
            )
        ],
        ordered_on=ordered_on,
        stamp=stamp_at(lead, shop_time(TODAY, 8)),
    )


def receive(lead: User, pieces: int, day: date, order: SupplierOrder | None = None) -> None:
    receive_delivery(
        supplier_code="HOOKS" if order is None else order.supplier.code,
        lines=[
            ReceiptLineDraft(
                item_code="HOOK-6", amount=Amount(Decimal(pieces), "each"), value_micro=pieces
            )
        ],
        order_code="" if order is None else order.code,
        stamp=stamp_at(lead, shop_time(day, 10)),
    )


def test_what_is_on_order_counts_until_it_has_come(lead: User, hook_offer: Offer) -> None:
    order = order_of(lead, 5, FIRST_DAY)
    row = row_of("HOOK-6")
    assert (row.on_order_base, row.position_base) == (5000, 5000)
    receive(lead, 2000, TODAY, order)
    row = row_of("HOOK-6")
    assert (row.on_order_base, row.usable_base, row.position_base) == (3000, 2000, 5000)


def test_a_delivery_that_waits_for_its_test_leaves_the_position_as_it_was(
    lead: User, hook_offer: Offer
) -> None:
    change_item(code="HOOK-6", fields={"arrives": "quarantined"}, by=lead, at=NOON)
    order = order_of(lead, 5, FIRST_DAY)
    receive(lead, 5000, TODAY, order)
    row = row_of("HOOK-6")
    assert (row.on_order_base, row.usable_base, row.quarantined_base) == (0, 0, 5000)
    assert row.position_base == 5000


def test_what_is_promised_by_rooms_above_is_taken_off(lead: User, hook_offer: Offer) -> None:
    hooks_used_daily(lead, 8000)
    row = reorder_list(on=TODAY, promised_base={hook_offer.item_id: 153})[0]
    assert (row.promised_base, row.position_base, row.is_due) == (153, 7847, True)
    assert why(row)[0] == (
        "Position 7,847 pieces: 8,000 pieces usable on hand, less 153 pieces promised."
    )


def test_received_orders_and_the_quote_tell_the_lead_time(lead: User, hook_offer: Offer) -> None:
    hooks_used_daily(lead, 100)
    receive(lead, 1000, FIRST_DAY, order_of(lead, 1, FIRST_DAY - timedelta(days=60)))
    receive(lead, 1000, TODAY, order_of(lead, 1, TODAY - timedelta(days=64)))
    row = row_of("HOOK-6")
    assert list(row.inputs.lead_times_days) == [60, 64]
    assert (row.lead_time_days, row.lead_time_source) == (Decimal(66), "blended")


def test_only_the_latest_two_dozen_order_lines_tell_the_lead_time(
    lead: User, hook_offer: Offer
) -> None:
    for days in range(20, 45):
        receive(lead, 1000, TODAY, order_of(lead, 1, TODAY - timedelta(days=days)))
    assert list(page_of().row.inputs.lead_times_days) == list(range(21, 45))


def test_the_lead_time_is_that_of_the_supplier_it_would_be_ordered_from(
    lead: User, hook_offer: Offer
) -> None:
    create_supplier(code="BENDERS", fields={"name": "Another supplier"}, by=lead, at=NOON)
    receive(lead, 1000, TODAY, order_of(lead, 1, TODAY - timedelta(days=9), "BENDERS"))
    inputs = page_of().row.inputs
    assert (list(inputs.lead_times_days), inputs.lead_time_quoted_days) == ([], 70)


def test_where_that_supplier_says_nothing_what_others_took_is_better_than_nothing(
    lead: User, supplier: Supplier, hook: Item
) -> None:
    offer_hooks(lead, "HOOKS", price_micro=None)
    create_supplier(code="BENDERS", fields={"name": "Another supplier"}, by=lead, at=NOON)
    receive(lead, 1000, TODAY, order_of(lead, 1, TODAY - timedelta(days=9), "BENDERS"))
    assert list(page_of().row.inputs.lead_times_days) == [9]
