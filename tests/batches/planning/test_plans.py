"""Build plans: entered, changed line by line, and what cannot be planned."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.utils import timezone

from batches.bills.operations import retire_bill
from batches.planning.models import BuildPlanLine
from batches.planning.rules.weeks import monday, monday_of, week_of
from inventory.catalog.operations import change_item
from shopfloor.days import shop_day
from shopfloor.models import Change, User
from tests.batches.floor import LATER, Caller

LURE = "PACKED-70-PERCH"


def in_weeks(weeks: int) -> date:
    """A Wednesday."""
    return monday(shop_day(timezone.now())) + timedelta(days=7 * weeks + 2)


def line(weeks: int, pieces: int, item: str = LURE) -> dict[str, Any]:
    return {"item": item, "week_on": in_weeks(weeks).isoformat(), "pieces": pieces}


def entered(api: Caller, *lines: dict[str, Any]) -> Any:
    return api.post("build-plans/", {"code": "SPRING", "name": "Spring", "lines": list(lines)})


def test_a_week_begins_on_monday() -> None:
    # ISO 8601: 2026-01-01 is a Thursday, in the week that begins on 2025-12-29.
    assert monday(date(2026, 1, 1)) == date(2025, 12, 29)
    assert week_of(date(2026, 1, 4), first_on=date(2025, 12, 29)) == 0
    assert week_of(date(2026, 1, 5), first_on=date(2025, 12, 29)) == 1
    assert week_of(date(2025, 12, 28), first_on=date(2025, 12, 29)) == -1
    assert monday_of(2, first_on=date(2025, 12, 29)) == date(2026, 1, 12)


def test_a_plan_is_entered_and_its_lines_stand_on_mondays(api: Caller) -> None:
    answer = entered(api, line(3, 500), line(2, 200))
    assert answer.status_code == 201, answer.json()
    assert [(each["week_on"], each["pieces"]) for each in answer.json()["lines"]] == [
        (monday(in_weeks(2)).isoformat(), 200),
        (monday(in_weeks(3)).isoformat(), 500),
    ]
    assert api.get("build-plans/", item=LURE).json()["count"] == 1
    assert api.get("build-plans/SPRING/").json() == answer.json()


def test_a_change_sets_the_lines_it_names_and_is_kept(api: Caller) -> None:
    entered(api, line(1, 100), line(2, 200))
    named = {"lines": [line(1, 0), line(2, 250), line(4, 50)]}
    answer = api.post("build-plans/SPRING/change/", named)
    assert [each["pieces"] for each in answer.json()["lines"]] == [250, 50]
    kept = Change.objects.filter(table="batches_buildplan").order_by("-pk")[0]
    assert kept.before is not None
    assert [pieces for _, _, pieces in kept.before["lines"]] == ["100", "200"]
    assert [pieces for _, _, pieces in kept.after["lines"]] == ["250", "50"]
    api.post("build-plans/SPRING/change/", {"is_active": False})
    assert api.get("build-plans/", is_active="false").json()["count"] == 1
    assert BuildPlanLine.objects.count() == 2


@pytest.mark.parametrize(
    ("wrong", "status", "code"),
    [
        (line(-1, 5), 422, "week_over"),
        (line(1, 5, "HALF-X"), 404, "not_found"),
        (line(1, 5, "RESIN"), 422, "not_pieces"),
        (line(1, 5, "HOOK-6"), 409, "no_current_bill"),
        (line(1, 10**9 + 1), 422, "invalid_input"),
    ],
)
def test_what_cannot_be_planned_is_refused_and_nothing_is_written(
    api: Caller, wrong: dict[str, Any], status: int, code: str
) -> None:
    answer = entered(api, line(1, 5), wrong)
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert not BuildPlanLine.objects.exists()


def test_an_item_stands_once_in_a_week(api: Caller) -> None:
    assert entered(api, line(1, 5), line(1, 6)).json()["code"] == "plan_line_twice"


def test_a_retired_lure_or_bill_is_not_planned_but_can_be_taken_out(
    api: Caller, lead: User
) -> None:
    entered(api, line(1, 5))
    retire_bill(item_code=LURE, number=1, by=lead, at=LATER)
    more = api.post("build-plans/SPRING/change/", {"lines": [line(1, 6)]})
    assert more.json()["code"] == "no_current_bill"
    change_item(code=LURE, fields={"is_active": False}, by=lead, at=LATER)
    more = api.post("build-plans/SPRING/change/", {"lines": [line(1, 6)]})
    assert more.json()["code"] == "not_active"
    none = api.post("build-plans/SPRING/change/", {"lines": [line(1, 0)]})
    assert none.json()["lines"] == []


def test_the_bench_only_looks(api: Caller, bench: User) -> None:
    answer = Caller(bench).post("build-plans/", {"code": "A", "name": "A"})
    assert answer.status_code == 403
    assert Caller(bench).get("build-plans/").status_code == 200
