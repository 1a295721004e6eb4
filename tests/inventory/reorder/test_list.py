"""Which items are listed, by which offer, in which order, in how many statements."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from pytest_django import DjangoAssertNumQueries

from inventory.catalog.models import Item, Offer, Supplier
from inventory.catalog.operations import (
    change_item,
    change_offer,
    change_supplier,
    create_item,
    create_offer,
    create_supplier,
)
from inventory.catalog.steps import PriceBreak
from inventory.reorder.selectors import ReorderRow, reorder_list, reorder_row, why
from inventory.stock.operations import (
    hold_lot,
)
from shopfloor.errors import NotFoundError
from shopfloor.fields import Amount
from shopfloor.models import User
from tests.inventory.conftest import NOON, stamp_at
from tests.inventory.reorder.conftest import (
    A_THOUSAND,
    TODAY,
    hold_lot_of,
    hooks_used_daily,
    offer_hooks,
    page_of,
    row_of,
    set_policy,
    shop_time,
    use,
)


def codes(rows: list[ReorderRow]) -> list[str]:
    return [row.item.code for row in rows]


# Which offer


def test_without_a_preferred_offer_the_cheapest_for_a_piece_at_its_smallest_order_is_used(
    lead: User, supplier: Supplier, hook: Item
) -> None:
    create_supplier(code="BENDERS", fields={"name": "Another supplier"}, by=lead, at=NOON)
    offer_hooks(lead, "BENDERS", price_micro=None)
    offer_hooks(lead, "HOOKS", price_micro=45_000_000)
    offer_hooks(lead, "HOOKS", price_micro=21_000_000, pack=500)
    offer_hooks(lead, "BENDERS", price_micro=86_000_000, pack=2000, packs_min=3)
    offer = page_of().row.offer
    assert offer is not None
    assert (offer.supplier.code, offer.pack_base, offer.packs_min) == ("HOOKS", 500, 1)


def test_a_preferred_offer_is_used_though_another_is_cheaper(lead: User, hook_offer: Offer) -> None:
    create_supplier(code="BENDERS", fields={"name": "Another supplier"}, by=lead, at=NOON)
    offer_hooks(lead, "BENDERS", price_micro=1)
    offer = page_of().row.offer
    assert offer is not None
    assert offer.supplier.code == "HOOKS"


def test_a_supplier_out_of_use_is_not_ordered_from_and_the_item_stays_in_the_list(
    lead: User, hook_offer: Offer
) -> None:
    change_supplier(code="HOOKS", fields={"is_active": False}, by=lead, at=NOON)
    row = row_of("HOOK-6")
    assert (row.offer, row.pack_base, row.suggested_value_micro) == (None, None, None)


# Which items


def test_an_item_nobody_offers_is_listed_once_somebody_set_a_policy_for_it(
    lead: User, hook: Item, resin: Item
) -> None:
    assert reorder_list(on=TODAY) == []
    set_policy(lead, review_days=14)
    assert codes(reorder_list(on=TODAY)) == ["HOOK-6"]


def test_an_item_not_to_be_watched_is_not_listed_and_can_still_be_looked_at(
    lead: User, hook_offer: Offer
) -> None:
    set_policy(lead, is_watched=False)
    assert reorder_list(on=TODAY) == []
    assert not page_of().is_watched


def test_an_item_out_of_use_or_offered_no_more_is_not_listed(lead: User, hook_offer: Offer) -> None:
    change_offer(
        supplier_code="HOOKS",
        item_code="HOOK-6",
        pack=A_THOUSAND,
        fields={"is_active": False},
        by=lead,
        at=NOON,
    )
    assert reorder_list(on=TODAY) == []
    set_policy(lead, review_days=14)
    change_item(code="HOOK-6", fields={"is_active": False}, by=lead, at=NOON)
    assert reorder_list(on=TODAY) == []


def test_no_item_is_looked_at_under_an_unknown_code(lead: User) -> None:
    with pytest.raises(NotFoundError):
        page_of("NOTHING")


# No advice


def test_an_item_without_history_says_what_to_do_and_shows_what_is_known(
    lead: User, hook_offer: Offer
) -> None:
    row = row_of("HOOK-6")
    assert row.no_advice is not None
    assert row.no_advice.code == "no_use_history"
    assert (row.advice, row.is_due, row.reorder_point_base, row.order_by) == (
        None,
        False,
        None,
        None,
    )
    assert why(row) == [
        "Position 0 pieces: 0 pieces usable on hand.",
        "There is no history of use yet. Set a reorder point by hand.",
    ]


def test_an_item_without_offer_and_lead_time_says_so(lead: User, hook: Item) -> None:
    hooks_used_daily(lead, 100)
    set_policy(lead, review_days=7)
    row = row_of("HOOK-6")
    assert row.no_advice is not None
    assert row.no_advice.code == "lead_time_unknown"


def test_a_point_set_by_hand_tells_that_it_is_due_even_without_a_lead_time(
    lead: User, hook: Item
) -> None:
    hold_lot_of(lead, 500, at=NOON)
    set_policy(lead, reorder_point=Amount(Decimal(499), "each"))
    assert not row_of("HOOK-6").is_due
    set_policy(lead, reorder_point=Amount(Decimal(500), "each"))
    row = row_of("HOOK-6")
    assert (row.is_due, row.reorder_point_base, row.suggested_packs) == (True, 500, None)
    assert "Reorder point 500 pieces, set by hand." in why(row)


def test_what_is_neither_used_nor_promised_is_not_due_when_it_is_gone(
    lead: User, hook_offer: Offer
) -> None:
    hold_lot_of(lead, 100, at=NOON)
    row = row_of("HOOK-6")
    assert (row.position_base, row.reorder_point_base, row.days_left) == (100, 0, None)
    hold_lot(lot_code="LOT", stamp=stamp_at(lead, reason="for the test"))
    row = row_of("HOOK-6")
    assert (row.position_base, row.reorder_point_base, row.is_due) == (0, 0, False)
    row = reorder_list(on=TODAY, promised_base={hook_offer.item_id: 1})[0]
    assert (row.position_base, row.is_due, row.suggested_packs) == (-1, True, 1)


# Policy in the advice


def test_a_policy_stands_in_place_of_the_shops_defaults(lead: User, hook_offer: Offer) -> None:
    hooks_used_daily(lead, 7000)
    set_policy(
        lead,
        service="cycle",
        service_level=Decimal("0.99"),
        review_days=14,
        order_cost_micro=50_000_000,
        holding_ratio_per_year=Decimal("0.2"),
    )
    row = row_of("HOOK-6")
    # Over 84 days: 8,400 and, of use 84 x 103.448 x (1 + 84/30) = 181.7^2, of the lead time
    # 1,714.6; together 1,724.2; 2.326348 of it 4,011.2. The root of 2 x 36.525 x 50 / 8 = 21.4: 21.
    assert (row.safety_stock_base, row.reorder_point_base) == (4012, 12_412)
    assert row.suggested_packs == 21


def test_a_reorder_point_set_by_hand_stands(lead: User, hook_offer: Offer) -> None:
    hooks_used_daily(lead, 9000)
    set_policy(lead, reorder_point=Amount(Decimal(9000), "each"))
    row = row_of("HOOK-6")
    assert (row.is_point_set, row.reorder_point_base, row.is_due) == (True, 9000, True)
    assert "Reorder point 9,000 pieces, set by hand." in why(row)


# The order of the list, and its statements


def eye(lead: User, code: str) -> None:
    create_item(
        code=code,
        fields={
            "name": f"Eye {code}",
            "kind": "eye",
            "dimension": "count",
            "display_unit": "each",
            "storage_place": "SHELF-A",
        },
        by=lead,
        at=NOON,
    )


def bought_item(lead: User, code: str) -> None:
    """An item of which a thousand come in a pack, ten days after the order."""
    eye(lead, code)
    create_offer(
        supplier_code="HOOKS",
        item_code=code,
        pack=A_THOUSAND,
        fields={"lead_time_days": 10, "prices": [PriceBreak(1, 5_000_000)]},
        by=lead,
        at=NOON,
    )


def used_ten_a_day(lead: User, code: str, on_hand: int) -> None:
    bought_item(lead, code)
    hold_lot_of(
        lead, on_hand + 20, code=code, item=code, at=shop_time(TODAY - timedelta(days=2), 1)
    )
    use(lead, 10, shop_time(TODAY - timedelta(days=2), 9), lot=code)
    use(lead, 10, shop_time(TODAY - timedelta(days=1), 9), lot=code)


def test_the_due_come_first_then_the_fewest_days_left_then_what_a_person_must_look_into(
    lead: User, shelf: object, supplier: Supplier
) -> None:
    used_ten_a_day(lead, "PLENTY", 900)
    used_ten_a_day(lead, "DUE-NEXT-WEEK", 170)
    set_policy(lead, "DUE-NEXT-WEEK", service="cycle", service_level=Decimal("0.5001"))
    used_ten_a_day(lead, "DUE-LESS", 40)
    used_ten_a_day(lead, "DUE-LEAST", 30)
    used_ten_a_day(lead, "SOON", 200)
    bought_item(lead, "NO-HISTORY")
    bought_item(lead, "IDLE")
    hold_lot_of(lead, 10, code="IDLE", item="IDLE", at=NOON)
    bought_item(lead, "BY-HAND")
    eye(lead, "BY-HAND-NO-LEAD-TIME")
    for code in ("BY-HAND", "BY-HAND-NO-LEAD-TIME"):
        set_policy(lead, code, reorder_point=Amount(Decimal(5), "each"))
    rows = reorder_list(on=TODAY)
    assert [(row.item.code, row.is_due, row.days_left) for row in rows] == [
        ("BY-HAND-NO-LEAD-TIME", True, None),
        ("DUE-LEAST", True, 0),
        ("DUE-LESS", True, 0),
        ("BY-HAND", True, None),
        ("DUE-NEXT-WEEK", True, 6),
        ("SOON", False, 10),
        ("PLENTY", False, 80),
        ("NO-HISTORY", False, None),
        ("IDLE", False, None),
    ]


@pytest.mark.parametrize("count", [1, 10, 100])
def test_the_list_takes_nine_statements_whatever_the_number_of_items(
    lead: User,
    shelf: object,
    supplier: Supplier,
    django_assert_num_queries: DjangoAssertNumQueries,
    count: int,
) -> None:
    for number in range(count):
        bought_item(lead, f"EYE-{number}")
    hold_lot_of(lead, 100, item="EYE-0", at=NOON)
    use(lead, 10, NOON)
    with django_assert_num_queries(9):
        rows = reorder_list(on=TODAY)
    with django_assert_num_queries(0):
        said = [why(row) for row in rows]
    assert len(said) == count


def test_one_item_and_its_page_take_nine_statements(
    lead: User, hook_offer: Offer, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    hooks_used_daily(lead, 100)
    with django_assert_num_queries(9):
        reorder_row(item_id=hook_offer.item_id, on=TODAY)
    with django_assert_num_queries(9):
        page_of()
