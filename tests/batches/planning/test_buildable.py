"""What can be built in a shop of its own records."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from batches.bills.operations import create_bill
from batches.packing.operations import create_customer, enter_customer_order
from batches.packing.steps.ordering import OrderLine
from batches.planning.selectors.buildable import buildable
from batches.planning.selectors.mixes import mix
from batches.runs.operations import plan, record, start_batch
from batches.runs.steps.batches import BatchPlan
from batches.runs.steps.drafts import EntryDraft, GoodTally
from inventory.catalog.operations import change_item, create_offer, create_supplier
from inventory.stock.operations import hold_lot
from shopfloor.models import User
from tests.batches.floor import (
    LATER,
    NOON,
    Caller,
    amount,
    enter_item,
    line,
    stamp_at,
    take_in,
)

DOOR = "planning/buildable/"
MIX_DOOR = "planning/buildable/mix/"
Asks = Callable[..., Any]


@pytest.fixture
def asks(lead: User) -> Asks:
    """`asks(DOOR, item="LURE-70-PERCH")`."""
    return lambda door, **query: Caller(lead).get(door, **query)


@pytest.fixture
def rigging(released_bills: None, lead: User) -> User:
    """Painted bodies and what rigging takes; hooks are offered by the hundred."""
    on_shelf = {"PAINTED-70-PERCH": 60, "EYE": 500, "RING": 90, "HOOK-6": 41}
    for item, pieces in on_shelf.items():
        take_in(item, pieces, worth="10", by=lead)
    create_supplier(code="HOOKS", fields={"name": "Hooks"}, by=lead, at=NOON)
    create_offer(
        supplier_code="HOOKS",
        item_code="HOOK-6",
        pack=amount("100 each"),
        fields={"packs_min": 1},
        by=lead,
        at=NOON,
    )
    return lead


def order(item: str, pieces: int, *, price: str = "9", by: User) -> None:
    create_customer(code=f"FOR-{item}"[:24], name="A customer", stamp=stamp_at(by))
    wanted = OrderLine(item, pieces, int(Decimal(price) * 10**6))
    enter_customer_order(
        customer_code=f"FOR-{item}"[:24], lines=[wanted], stamp=stamp_at(by), ordered_on=NOON.date()
    )


def second_lure(by: User, *, hooks: int) -> None:
    """Another lure of the same painted body, with more hooks and no rings."""
    enter_item("LURE-TWO", kind="lure", by=by)
    draft = [line("PAINTED-70-PERCH", "1 each"), line("HOOK-6", f"{hooks} each")]
    create_bill(item_code="LURE-TWO", stage_code="RIGGING", lines=draft, by=by, at=NOON)
    answer = Caller(by).post("bills/LURE-TWO/revisions/1/release/")
    assert answer.status_code == 200, answer.json()


def test_the_hooks_are_the_bottleneck_and_one_more_pack_gives_what_the_rings_allow(
    rigging: User, asks: Asks
) -> None:
    found = asks(DOOR, item="lure-70-perch").json()
    # 41 hooks rig 20 lures, two a piece; of 20 the bill plans 1 % scrap, so 19 are sure.
    assert (found["pieces"], found["at_most"]) == (19, 19)
    assert [
        (each["item"], each["free"], each["allows"], each["more_with_pack"])
        for each in found["bottlenecks"][:3]
    ] == [
        ("HOOK-6", {"amount": "41", "unit": "each"}, 19, 44 - 19),
        ("RING", {"amount": "90", "unit": "each"}, 44, None),
        ("COLORANT", {"amount": "0", "unit": "g"}, 59, None),
    ]
    assert found["why"][0] == "19 of LURE-70-PERCH can be built from what is released now."
    assert found["why"][1].startswith("HOOK-6, the bottleneck: 41 pieces free, enough for 19.")
    assert found["why"][1].endswith("One more pack of 100 pieces gives 25 more.")


def test_what_is_on_the_shelf_half_made_is_used_before_more_is_made(
    rigging: User, asks: Asks
) -> None:
    for item, qty_base in {"HOOK-6": 1000, "RING": 1000, "BODY-70": 30, "THINNER": 10**6}.items():
        take_in(item, qty_base, worth="10", by=rigging)
    for paint in ("PAINT-BASE", "PAINT-GREEN"):
        take_in(paint, 10**6, worth="10", by=rigging)
    found = asks(DOOR, item="LURE-70-PERCH").json()
    # 30 bodies painted leave 28 good (4 % scrap); with the 60 there, 88 are rigged: 87 good.
    assert found["pieces"] == 87
    assert [(step["item"], step["good"]["amount"]) for step in found["steps"]] == [
        ("PAINTED-70-PERCH", "28"),
        ("LURE-70-PERCH", "87"),
    ]
    paints = {each["item"]: each["amount"] for each in found["steps"][0]["takes"]}
    # 30 x 0.35 mL / (1 - 0.5) and 5 mL once; 30 x 0.2 mL / (1 - 0.6).
    assert paints["PAINT-BASE"] == {"amount": "26", "unit": "mL"}
    assert paints["PAINT-GREEN"] == {"amount": "15", "unit": "mL"}


def test_what_is_held_or_promised_is_not_counted_on(rigging: User, asks: Asks, lead: User) -> None:
    held = take_in("HOOK-6", 1000, worth="10", by=rigging)
    hold_lot(lot_code=held.code, stamp=stamp_at(lead, reason="rust"))
    take_in("LURE-70-PERCH", 30, worth="60", by=rigging)
    order("LURE-70-PERCH", 25, by=lead)
    packed = {"BLISTER": 100, "INSERT": 100}
    for item, pieces in packed.items():
        take_in(item, pieces, worth="1", by=lead)
    found = asks(DOOR, item="PACKED-70-PERCH", orders_first=False).json()
    # Of the 30 lures 25 are promised: 5, and the 19 that the hooks make.
    assert found["pieces"] == 24


def test_open_orders_of_others_are_built_first_unless_told_otherwise(
    rigging: User, asks: Asks
) -> None:
    second_lure(rigging, hooks=3)
    order("LURE-TWO", 5, by=rigging)
    kept = asks(DOOR, item="LURE-70-PERCH").json()
    # Five of the other take 15 hooks; 26 rig 13, of which 12 are sure.
    assert (kept["pieces"], kept["set_aside"]) == (12, [{"item": "LURE-TWO", "pieces": 5}])
    ignored = asks(DOOR, item="LURE-70-PERCH", orders_first=False).json()
    assert ignored["pieces"] == 19
    assert "Nothing is set aside for what open orders of other items lack." in ignored["why"]


def test_a_part_that_no_bill_makes_is_told_as_such(rigging: User, asks: Asks) -> None:
    enter_item("PAINTED-NEW", kind="painted_body", by=rigging)
    enter_item("LURE-NEW", kind="lure", by=rigging)
    create_bill(
        item_code="LURE-NEW",
        stage_code="RIGGING",
        lines=[line("PAINTED-NEW", "1 each"), line("HOOK-6", "1 each")],
        by=rigging,
        at=NOON,
    )
    Caller(rigging).post("bills/LURE-NEW/revisions/1/release/")
    found = asks(DOOR, item="LURE-NEW").json()
    assert found["pieces"] == 0
    assert "No bill of it is in force, so no more can be made." in found["why"][1]
    said = [asks(DOOR, item=item).json()["detail"] for item in ("PAINTED-NEW", "HOOK-6")]
    assert said[0].startswith("PAINTED-NEW has no bill in force")
    assert said[1].startswith("HOOK-6 is bought, not made. Ask for something that it goes into")


def test_bench_hours_come_from_what_entries_took(rigging: User) -> None:
    batch = plan(
        plan=BatchPlan(item_code="LURE-70-PERCH", planned_base=10), stamp=stamp_at(rigging)
    )
    start_batch(batch_code=batch.code, stamp=stamp_at(rigging))
    record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(10)], minutes=40),
        stamp=stamp_at(rigging),
    )
    # Four minutes a piece: in 30 minutes 7 are worked on, 6 of them surely good.
    found = buildable(item_code="LURE-70-PERCH", now=LATER, hours=Decimal("0.5"))
    assert (found.pieces, found.hours, found.untimed) == (6, "0.5", [])
    assert any("the bench hours are what ends it" in said for said in found.why)


def test_a_mix_by_margin_weighs_price_less_material(rigging: User, asks: Asks) -> None:
    second_lure(rigging, hooks=1)
    for item in ("RESIN", "COLORANT", "GLUE-A", "GLUE-B", "HANGER", "RATTLE", "THINNER"):
        take_in(item, 1, worth="0", by=rigging)
    take_in("PAINT-BASE", 1, worth="0", by=rigging)
    take_in("PAINT-GREEN", 1, worth="0", by=rigging)
    order("LURE-70-PERCH", 100, price="9", by=rigging)
    order("LURE-TWO", 100, price="5", by=rigging)
    found = asks(MIX_DOOR, lures="LURE-70-PERCH,LURE-TWO:30").json()
    # A hook brings 5.00 less its material in the one, half of 9.00 less its in the other. But the
    # 11 hooks beside 30 rig 5 of which 4 are sure; 29 leave 12, which rig 6, of which 5 are.
    assert {each["item"]: each["pieces"] for each in found["lures"]} == {
        "LURE-70-PERCH": 5,
        "LURE-TWO": 29,
    }
    # Material of LURE-TWO: a body that costs nothing here, and a hook at 10/41.
    material = {each["item"]: each["material"] for each in found["lures"]}["LURE-TWO"]
    assert material == "0.243902"
    assert found["is_best"] is True
    assert found["lures"][0]["missing_for_one_more"] == ["HOOK-6"]
    assert [each["item"] for each in found["with_more"]] == ["HOOK-6"]


def test_a_mix_by_demand_builds_what_open_orders_wait_for(rigging: User) -> None:
    second_lure(rigging, hooks=3)
    order("LURE-70-PERCH", 8, by=rigging)
    order("LURE-TWO", 50, by=rigging)
    found = mix(now=LATER, by="demand", lures={})
    # 8 of the two-hook lure are worked on as 9: 18 hooks; 23 left make 7 of the other.
    assert {each.item: each.pieces for each in found.lures} == {"LURE-70-PERCH": 8, "LURE-TWO": 7}
    assert (found.value, found.is_best) == ("15", True)


def test_a_lure_without_a_price_is_left_out_and_said(rigging: User, asks: Asks) -> None:
    found = asks(MIX_DOOR).json()
    assert found["lures"] == []
    assert [each["item"] for each in found["left_out"]] == ["PACKED-70-PERCH"]


@pytest.mark.parametrize(
    ("door", "query", "code"),
    [
        (DOOR, {"item": "NO-SUCH"}, "not_found"),
        (DOOR, {"item": "HOOK-6"}, "no_current_bill"),
        (DOOR, {"item": "LURE-70-PERCH", "hours": "-1"}, "invalid_input"),
        (DOOR, {}, "invalid_input"),
        (MIX_DOOR, {"lures": "LURE-70-PERCH:many"}, "invalid_input"),
        (MIX_DOOR, {"lures": "HOOK-6"}, "no_current_bill"),
        (MIX_DOOR, {"by": "luck"}, "invalid_input"),
        (MIX_DOOR, {"lures": ",".join(f"L{n}" for n in range(41))}, "not_found"),
    ],
)
def test_what_cannot_be_asked_is_refused_with_what_to_do(
    rigging: User, asks: Asks, door: str, query: dict[str, str], code: str
) -> None:
    assert asks(door, **query).json()["code"] == code


def test_a_retired_lure_is_not_planned(rigging: User, asks: Asks) -> None:
    change_item(code="LURE-70-PERCH", fields={"is_active": False}, by=rigging, at=LATER)
    answer = asks(DOOR, item="LURE-70-PERCH")
    assert (answer.status_code, answer.json()["code"]) == (409, "not_active")


def test_what_expired_is_not_counted_on(rigging: User) -> None:
    take_in("HOOK-6", 1000, worth="10", by=rigging, expires_at=NOON + timedelta(days=10))
    assert buildable(item_code="LURE-70-PERCH", now=NOON + timedelta(days=9)).pieces > 19
    assert buildable(item_code="LURE-70-PERCH", now=LATER).pieces == 19


def test_the_statements_are_as_many_as_are_told(
    rigging: User, django_assert_max_num_queries: Any
) -> None:
    with django_assert_max_num_queries(7):
        buildable(item_code="LURE-70-PERCH", now=LATER)
    with django_assert_max_num_queries(13):
        mix(now=LATER, by="margin", lures={})
