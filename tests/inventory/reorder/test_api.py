"""Doors of the reorder list: its shape, filters, pages, one item, and the policy."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from inventory.catalog.models import Item, Offer
from shopfloor.models import Change, User
from tests.inventory.conftest import LATER, NOON, Caller
from tests.inventory.reorder.conftest import hold_lot_of, use_every_day

Calling = Callable[[User], Caller]

EACH = "each"


@pytest.fixture(autouse=True)
def _first_of_april(monkeypatch: pytest.MonkeyPatch) -> None:
    """The doors read the clock; the history of these tests ends the day before."""
    monkeypatch.setattr(timezone, "now", lambda: LATER)


@pytest.fixture
def hooks_in_use(lead: User, hook_offer: Offer) -> Offer:
    """A hundred a day, 7,847 left, which is the reorder point."""
    hold_lot_of(lead, 7847 + 3000, at=NOON)
    use_every_day(lead, [90, 110] * 15)
    return hook_offer


def amount(number: int | str, unit: str = EACH) -> dict[str, str]:
    return {"amount": str(number), "unit": unit}


def results(answer: Any) -> list[str]:
    assert answer.status_code == 200, answer.json()
    return [row["item"] for row in answer.json()["results"]]


def test_the_list_tells_all_about_an_item_that_is_due(
    calling: Calling, viewer: User, hooks_in_use: Offer
) -> None:
    body = calling(viewer).get("reorder/").json()
    assert {name: body[name] for name in ("count", "next", "previous")} == {
        "count": 1,
        "next": None,
        "previous": None,
    }
    row = body["results"][0]
    why = row.pop("why")
    assert row.pop("in_short") == (
        "7,847 pieces left and on order, for 78 days: "
        "at or below the reorder point of 8,496 pieces."
    )
    assert row == {
        "item": "HOOK-6",
        "item_name": "Treble hook, size 6",
        "kind": "hook",
        "supplier": "HOOKS",
        "offer": {
            "supplier": "HOOKS",
            "supplier_name": "The hook supplier",
            "supplier_item_number": "",
            "packs_min": 1,
            "lead_time_days": 70,
            "is_preferred": True,
        },
        "pack": amount(1000),
        "position": amount(7847),
        "usable": amount(7847),
        "quarantined": amount(0),
        "expiring": amount(0),
        "on_order": amount(0),
        "promised": amount(0),
        "use_per_day": amount(100),
        "use_per_day_sd": amount("10.171"),
        "lead_time_days": "70",
        "lead_time_sd_days": "17.1464",
        "lead_time_source": "quoted",
        "safety_stock": amount(796),
        "reorder_point": amount(8496),
        "is_point_set": False,
        "is_due": True,
        "days_left": 0,
        "order_by": "2026-04-01",
        "suggested_packs": 14,
        "suggested": amount(14000),
        "suggested_value": "560.00",
        "outlook": {"short_if_today": "0.290", "short_if_later": "0.437", "lasts_days": 78},
        "no_advice": None,
    }
    assert "Order 14 packs of 1,000 pieces from HOOKS: 14,000 pieces for 560.00." in why


def test_an_item_without_advice_is_in_the_list_with_the_reason(
    calling: Calling, viewer: User, hook_offer: Offer
) -> None:
    row = calling(viewer).get("reorder/").json()["results"][0]
    assert row["no_advice"] == {
        "code": "no_use_history",
        "detail": "There is no history of use yet. Set a reorder point by hand.",
    }
    unknown = ["use_per_day", "lead_time_days", "reorder_point", "suggested", "suggested_value"]
    assert [row[name] for name in unknown] == [None] * 5
    assert (row["is_due"], row["order_by"]) == (False, None)


@pytest.fixture
def two_items(calling: Calling, lead: User, hooks_in_use: Offer, resin: Item) -> None:
    """Hooks, due, and resin that nobody offers and nobody used."""
    answer = calling(lead).post("reorder/RESIN/policy/", {"review_days": 14})
    assert answer.status_code == 200, answer.json()


@pytest.mark.usefixtures("two_items")
@pytest.mark.parametrize(
    ("query", "found"),
    [
        ({}, ["HOOK-6", "RESIN"]),
        ({"is_due": "true"}, ["HOOK-6"]),
        ({"is_due": "false"}, ["RESIN"]),
        ({"has_advice": "false"}, ["RESIN"]),
        ({"supplier": "hooks"}, ["HOOK-6"]),
        ({"supplier": "NOBODY"}, []),
        ({"kind": "resin"}, ["RESIN"]),
        ({"search": "size treble"}, ["HOOK-6"]),
        ({"search": "resin treble"}, []),
        ({"search": "", "is_due": "", "kind": "", "supplier": ""}, ["HOOK-6", "RESIN"]),
        ({"ordering": "-item"}, ["RESIN", "HOOK-6"]),
        ({"ordering": "-supplier"}, ["HOOK-6", "RESIN"]),
        ({"ordering": "kind,-order_by"}, ["HOOK-6", "RESIN"]),
        ({"ordering": "-urgency"}, ["RESIN", "HOOK-6"]),
        ({"page_size": "1", "page": "2"}, ["RESIN"]),
    ],
)
def test_the_list_is_filtered_searched_ordered_and_paged(
    calling: Calling, viewer: User, query: dict[str, str], found: list[str]
) -> None:
    assert results(calling(viewer).get("reorder/", **query)) == found


@pytest.mark.usefixtures("two_items")
def test_a_page_counts_all_and_names_the_next(calling: Calling, viewer: User) -> None:
    body = calling(viewer).get("reorder/", page_size=1).json()
    assert (body["count"], body["previous"]) == (2, None)
    assert body["next"].endswith("/api/v1/reorder/?page=2&page_size=1")


@pytest.mark.parametrize(
    ("query", "status", "code"),
    [
        ({"due": "true"}, 422, "unknown_parameter"),
        ({"is_due": "maybe"}, 422, "invalid_input"),
        ({"kind": "rope"}, 422, "invalid_input"),
        ({"supplier": "a b"}, 422, "invalid_input"),
        ({"search": "x" * 101}, 422, "invalid_input"),
        ({"ordering": "price"}, 422, "ordering_unknown"),
        ({"ordering": "item,-on_hand"}, 422, "ordering_unknown"),
        ({"page": "2"}, 404, "not_found"),
    ],
)
def test_what_the_list_does_not_know_is_refused(
    calling: Calling,
    viewer: User,
    hook_offer: Offer,
    query: dict[str, str],
    status: int,
    code: str,
) -> None:
    answer = calling(viewer).get("reorder/", **query)
    assert (answer.status_code, answer.json()["code"]) == (status, code)


def test_the_list_takes_nine_statements(
    calling: Calling,
    viewer: User,
    hooks_in_use: Offer,
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    caller = calling(viewer)
    with django_assert_num_queries(9):
        assert results(caller.get("reorder/")) == ["HOOK-6"]


def test_one_item_shows_every_input(
    calling: Calling, viewer: User, lead: User, hooks_in_use: Offer
) -> None:
    calling(lead).post("reorder/HOOK-6/policy/", {"review_days": 14})
    body = calling(viewer).get("reorder/hook-6/").json()
    row, used = body.pop("row"), body.pop("use_by_day")
    assert body.pop("forecast") == {
        "pattern": "smooth",
        "method": "mean of all weeks",
        "per_week": [700.0] * 13,
    }
    assert (row["item"], row["is_due"]) == ("HOOK-6", True)
    assert (len(used), used[0]) == (30, {"day": "2026-03-02", "used": amount(90)})
    course = body.pop("course")
    assert (course[0]["on"], course[0]["mean"]) == ("2026-04-01", amount(7847))
    assert course[-1]["mean"] == amount(7847 - 100 * (len(course) - 1) * 3)
    assert body == {
        "to_come": [],
        "is_watched": True,
        "policy": {
            "service": "",
            "service_level": None,
            "review_days": 14,
            "reorder_point": None,
            "order_cost": None,
            "holding_ratio_per_year": None,
            "room": None,
            "order_value_max": None,
            "is_watched": True,
        },
        "service": "fill",
        "service_level": "0.98",
        "review_days": 14,
        "order_cost": "25.00",
        "holding_ratio_per_year": "0.25",
        "shelf_life_days": None,
        "lead_times_days": [],
        "lead_time_quoted_days": 70,
        "price_breaks": [
            {"packs_from": 1, "pack_price": "45.00"},
            {"packs_from": 5, "pack_price": "40.00"},
        ],
        "not_counted": {
            "held": amount(0),
            "rejected": amount(0),
            "expired": amount(0),
            "of_others": amount(0),
        },
        "history_from": "2026-03-02",
        "history_days": 30,
    }


def test_an_item_that_nobody_offers_can_be_looked_at_and_an_unknown_one_not(
    calling: Calling, viewer: User, resin: Item
) -> None:
    caller = calling(viewer)
    body = caller.get("reorder/RESIN/").json()
    assert (body["is_watched"], body["policy"], body["history_from"]) == (False, None, None)
    answer = caller.get("reorder/NOTHING/")
    assert (answer.status_code, answer.json()["code"]) == (404, "not_found")


# The policy


def test_a_policy_is_set_changed_and_cleared_and_each_change_is_kept(
    calling: Calling, lead: User, hooks_in_use: Offer
) -> None:
    caller = calling(lead)
    whole = {
        "service": "cycle",
        "service_level": "0.99",
        "review_days": 14,
        "reorder_point": amount("75", "dozen"),
        "order_cost": "12.50",
        "holding_ratio_per_year": "0.2",
        "room": amount("1000", "dozen"),
        "order_value_max": "400.00",
        "is_watched": True,
    }
    answer = caller.post("reorder/hook-6/policy/", whole)
    assert answer.status_code == 200, answer.json()
    assert (answer.json()["is_point_set"], answer.json()["reorder_point"]) == (True, amount(900))
    kept = caller.get("reorder/HOOK-6/").json()["policy"]
    assert kept == {
        **whole,
        "service_level": "0.9900",
        "reorder_point": amount(900),
        "room": amount(12_000),
        "holding_ratio_per_year": "0.2000",
    }
    answer = caller.post("reorder/HOOK-6/policy/", {"reorder_point": None})
    assert (answer.json()["is_point_set"], answer.json()["reorder_point"]) == (
        False,
        amount(12_412),
    )
    changes = Change.objects.filter(table="inventory_reorderpolicy").order_by("pk")
    first, second = changes
    assert (first.row_code, first.by, first.before) == ("HOOK-6", lead, None)
    assert first.after["reorder_point_base"] == 900
    assert (second.before, second.after) == (
        {"reorder_point_base": 900},
        {"reorder_point_base": None},
    )


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ({}, "invalid_input"),
        ({"service_level": "0.5"}, "service_level_outside"),
        ({"service_level": "1"}, "service_level_outside"),
        ({"service_level": "95"}, "service_level_outside"),
        ({"service_level": "0.95555"}, "invalid_input"),
        ({"service_level": 0.95}, "invalid_input"),
        ({"review_days": -1}, "invalid_input"),
        ({"review_days": 367}, "invalid_input"),
        ({"reorder_point": amount("-1")}, "invalid_input"),
        ({"reorder_point": amount("1.5")}, "fraction_of_piece"),
        ({"reorder_point": amount("1", "mL")}, "unit_mismatch"),
        ({"order_cost": "-1"}, "invalid_input"),
        ({"holding_ratio_per_year": "-0.1"}, "invalid_input"),
        ({"holding_ratio_per_year": "10"}, "invalid_input"),
        ({"service": "luck"}, "invalid_input"),
        ({"room": amount(0)}, "invalid_input"),
        ({"room": amount("1", "mL")}, "unit_mismatch"),
        ({"order_value_max": "0"}, "invalid_input"),
        ({"is_watched": None}, "invalid_input"),
        ({"lead_time_days": 3}, "invalid_input"),
    ],
)
def test_a_policy_that_cannot_be_meant_is_refused_and_nothing_is_kept(
    calling: Calling, lead: User, hook_offer: Offer, body: dict[str, Any], code: str
) -> None:
    answer = calling(lead).post("reorder/HOOK-6/policy/", body)
    assert (answer.status_code, answer.json()["code"]) == (422, code)
    assert not Change.objects.filter(table="inventory_reorderpolicy").exists()
    assert calling(lead).get("reorder/HOOK-6/").json()["policy"] is None


@pytest.mark.parametrize(
    "body",
    [
        {"service_level": "0.5001"},
        {"service_level": "0.9999"},
        {"review_days": 0},
        {"review_days": 366},
        {"reorder_point": amount(0)},
        {"order_cost": "0"},
        {"holding_ratio_per_year": "0"},
        {"holding_ratio_per_year": "9.9999"},
    ],
)
def test_the_last_values_that_can_be_meant_are_taken(
    calling: Calling, lead: User, hooks_in_use: Offer, body: dict[str, Any]
) -> None:
    answer = calling(lead).post("reorder/HOOK-6/policy/", body)
    assert answer.status_code == 200, answer.json()
    assert calling(lead).get("reorder/").status_code == 200


def test_the_same_policy_sent_twice_is_kept_once(
    calling: Calling, lead: User, hook_offer: Offer
) -> None:
    caller = calling(lead)
    first, again = (
        caller.post("reorder/HOOK-6/policy/", {"review_days": 3}, key="once") for _ in range(2)
    )
    assert (again.status_code, again.json()) == (200, first.json())
    assert Change.objects.filter(table="inventory_reorderpolicy").count() == 1


def test_no_policy_is_set_for_an_unknown_item(calling: Calling, lead: User) -> None:
    answer = calling(lead).post("reorder/NOTHING/policy/", {"review_days": 3})
    assert (answer.status_code, answer.json()["code"]) == (404, "not_found")


@pytest.mark.parametrize("role", ["molder", "packer", "viewer"])
def test_only_leads_decide_about_reordering(
    calling: Calling, request: pytest.FixtureRequest, hook_offer: Offer, role: str
) -> None:
    person = request.getfixturevalue(role)
    answer = calling(person).post("reorder/HOOK-6/policy/", {"review_days": 3})
    assert (answer.status_code, answer.json()["code"]) == (403, "not_allowed")
    assert calling(person).get("reorder/").status_code == 200
