"""What to count in a shop of its own records."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.utils import timezone

from inventory.catalog.models import Item
from inventory.counting.selectors import ClassRow, CountTurn, class_rows, count_turns
from inventory.stock.models import Posting
from inventory.stock.operations import Found, OpeningLot, count_lots, take_in_opening_lots
from shopfloor.models import User
from tests.inventory.conftest import LATER, NOON, Caller, stamp_at
from tests.inventory.reorder.conftest import undo, use

FIRST_DAY, TODAY = NOON.date(), LATER.date()


@pytest.fixture
def shop(hook: Item, resin: Item, paint: Item, lead: User) -> User:
    """Two lots of hooks, one of resin, one of paint; a hook is worth 1.00, a gram a cent."""
    lots = [
        OpeningLot(item_code="HOOK-6", qty_base=1000, value_micro=10**9, lot_code="HOOKS-1"),
        OpeningLot(item_code="HOOK-6", qty_base=500, value_micro=5 * 10**8, lot_code="HOOKS-2"),
        OpeningLot(item_code="RESIN", qty_base=10**6, value_micro=10**7, lot_code="RESIN-1"),
        OpeningLot(item_code="PAINT-RED", qty_base=10**6, value_micro=10**7, lot_code="PAINT-1"),
    ]
    take_in_opening_lots(lots=lots, stamp=stamp_at(lead))
    return lead


def count(by: User, lot: str, found: int, *, days: int = 1) -> Posting | None:
    at = NOON + timedelta(days=days)
    return count_lots(
        found=[Found(lot_code=lot, found_base=found)], stamp=stamp_at(by, at, reason="counted")
    ).posting


def turns(on: date = TODAY) -> dict[str, CountTurn]:
    return {turn.item.code: turn for turn in count_turns(on=on)}


def rows(first_on: date = FIRST_DAY, last_on: date = TODAY) -> dict[str, ClassRow]:
    found = class_rows(on=TODAY, first_on=first_on, last_on=last_on)
    return {row.abc: row for row in found}


def test_class_is_by_the_value_used_and_a_reversed_use_was_none(shop: User) -> None:
    use(shop, 300, NOON + timedelta(days=1), lot="HOOKS-1")
    use(shop, 10**6, NOON + timedelta(days=2), lot="RESIN-1")
    undo(
        posting=use(shop, 10**6, NOON + timedelta(days=3), lot="PAINT-1"),
        stamp=stamp_at(shop, LATER),
    )
    found = turns()
    assert found.keys() == {"HOOK-6", "PAINT-RED"}  # no resin is left to count
    assert (found["HOOK-6"].abc, found["HOOK-6"].value_used_micro) == ("A", 300_000_000)
    assert (found["PAINT-RED"].abc, found["PAINT-RED"].value_used_micro) == ("C", 0)
    assert float(found["HOOK-6"].share) == pytest.approx(300 / 310)


def test_an_item_waits_for_the_lot_that_was_not_counted(shop: User) -> None:
    count(shop, "HOOKS-1", 1000, days=20)
    one = turns()["HOOK-6"]
    assert (one.lots, one.since_on, one.counted_on) == (2, FIRST_DAY, date(2026, 3, 22))
    count(shop, "HOOKS-2", 500, days=21)
    both = turns()["HOOK-6"]
    assert (both.since_on, both.counted_on) == (date(2026, 3, 22), date(2026, 3, 23))


def test_what_was_never_counted_is_planned_before_what_was(shop: User) -> None:
    count(shop, "HOOKS-1", 1000)
    count(shop, "HOOKS-2", 500)
    order = [(turn.item.code, turn.is_due) for turn in count_turns(on=TODAY)]
    assert order == [("RESIN", True), ("PAINT-RED", False), ("HOOK-6", False)]
    assert turns()["PAINT-RED"].planned_on == TODAY + timedelta(days=1)
    assert turns()["HOOK-6"].planned_on == date(2026, 8, 18)  # C, 120 working days after


def test_accuracy_is_told_by_class_with_what_the_differences_are_worth(shop: User) -> None:
    use(shop, 100, NOON + timedelta(hours=1), lot="HOOKS-1")  # hooks are A: 0.2 %
    count(shop, "HOOKS-1", 899)
    count(shop, "HOOKS-2", 497)
    count(shop, "PAINT-1", 960_000)  # C: 5 %
    found = rows()
    assert (found["A"].lines, found["A"].right, found["A"].accuracy) == (2, 1, "0.5")
    assert (found["A"].net_value, found["A"].gross_value) == ("-4.00", "4.00")
    assert (found["C"].lines, found["C"].right, found["C"].accuracy) == (1, 1, "1")
    assert (found[""].lines, found[""].accuracy, found[""].items) == (3, "0.6667", 3)
    assert found["B"].accuracy is None


def test_a_count_outside_the_days_asked_for_is_left_out(shop: User) -> None:
    count(shop, "RESIN-1", 10**6, days=3)
    assert rows()[""].lines == 1
    assert rows(last_on=FIRST_DAY + timedelta(days=2))[""].lines == 0


def test_an_empty_shop_has_nothing_to_count(lead: User) -> None:
    assert count_turns(on=TODAY) == []
    assert rows()[""].accuracy is None


def test_it_takes_four_statements_and_three(
    shop: User, django_assert_num_queries: Callable[[int], Any]
) -> None:
    with django_assert_num_queries(4):
        count_turns(on=TODAY)
    with django_assert_num_queries(3):
        rows()


def test_the_doors_answer_what_is_due_and_refuse_what_they_do_not_know(shop: User) -> None:
    caller = Caller(shop)
    listed = caller.get("counting/", is_due=True, kind="hook")
    assert listed.status_code == 200
    on = timezone.localdate()
    assert [row["item"] for row in listed.json()["results"]] == ["HOOK-6"] * (on.weekday() < 5)
    assert caller.get("counting/", abc="D").json()["code"] == "invalid_input"
    everything = caller.get("counting/").json()["results"]
    assert {row["item"]: row["on_hand"] for row in everything}["HOOK-6"] == {
        "amount": "1500",
        "unit": "each",
    }
    answer = caller.get("counting/classes/", first_on="2026-03-01", last_on="2026-03-31").json()
    assert [row["abc"] for row in answer["classes"]] == ["A", "B", "C", ""]
    backward = caller.get("counting/classes/", first_on="2026-03-02", last_on="2026-03-01")
    assert backward.status_code == 422
