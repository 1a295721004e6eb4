"""How many to start in a shop of its own records."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from batches.planning.selectors.starting import Pace, starting
from batches.runs.operations import add_scrap_reason, plan, record, start_batch
from batches.runs.steps.batches import BatchPlan
from batches.runs.steps.drafts import EntryDraft, GoodTally, ScrapTally
from inventory.catalog.operations import change_item, create_equipment
from shopfloor.models import User
from tests.batches.floor import LATER, NOON, Caller, stamp_at, take_in

DOOR = "planning/starting/"
RIGGED = "LURE-70-PERCH"


@pytest.fixture
def rigging(released_bills: None, lead: User) -> User:
    """What rigging takes, and a reason to scrap there."""
    for item, pieces in {
        "PAINTED-70-PERCH": 900,
        "EYE": 3000,
        "RING": 3000,
        "HOOK-6": 3000,
    }.items():
        take_in(item, pieces, worth="10", by=lead)
    add_scrap_reason(code="BENT", name="Bent", by=lead, at=NOON, stage_code="RIGGING")
    return lead


def run(by: User, good: int, scrapped: int, *, minutes: int | None = None) -> None:
    """A batch of rigged lures."""
    batch = plan(plan=BatchPlan(item_code=RIGGED, planned_base=good), stamp=stamp_at(by))
    start_batch(batch_code=batch.code, stamp=stamp_at(by))
    record(
        draft=EntryDraft(
            batch_code=batch.code,
            good=[GoodTally(good)],
            scrap=[ScrapTally(scrapped, "BENT")] if scrapped else [],
            minutes=minutes,
        ),
        stamp=stamp_at(by),
    )


def ask(good: int = 100, chance: str = "0.9", **more: Any) -> Any:
    return starting(item_code=RIGGED, good=good, chance=Decimal(chance), now=LATER, **more)


def test_with_painted_bodies_there_only_rigging_is_started_and_no_run_means_the_bill(
    rigging: User,
) -> None:
    found = ask()
    (step,) = found.steps
    assert (step.item, step.yield_source, step.runs, step.yield_planned) == (
        RIGGED, "plan", 0, "0.99000",
    )  # fmt: skip
    assert step.start is not None
    assert step.start > 101
    assert float(found.sure) >= 0.9 > float(found.sure_with_one_fewer)
    assert any("no run yet" in said for said in found.why)


def test_runs_teach_the_yield_and_more_of_them_start_fewer(rigging: User) -> None:
    before = ask().steps[0].start
    for scrapped in (3, 5, 4):
        run(rigging, 96, scrapped)
    found = ask()
    assert (found.steps[0].yield_source, found.steps[0].runs) == ("own", 3)
    # 288 of 300 were good: 96 %.
    assert float(found.steps[0].yield_mean) == pytest.approx(0.96, abs=0.006)
    assert found.by_means == {RIGGED: 105}
    assert before is not None
    assert found.steps[0].start is not None
    assert 105 < found.steps[0].start < before + 8


def test_requirements_take_what_runs_taught_until_a_person_says_otherwise(rigging: User) -> None:
    api = Caller(rigging)
    week_on = (date.today() + timedelta(days=140)).isoformat()  # noqa: DTZ011 - any far week will do
    line = {"item": "PACKED-70-PERCH", "week_on": week_on, "pieces": 970}
    api.post("build-plans/", {"code": "SPRING", "name": "S", "lines": [line]})

    def rigged() -> list[Any]:
        """Who says what comes out good, and the hooks that so many lures need: two each."""
        (row,) = api.get("planning/requirements/", item=RIGGED).json()["results"]
        (hooks,) = api.get("planning/requirements/", item="HOOK-6").json()["results"]
        said = [row[f"yield_{name}"] for name in ("mean", "source", "runs")]
        return [*said, row["planned"]["amount"], hooks["gross"]["amount"]]

    run(rigging, 96, 3)
    run(rigging, 96, 5)
    # 192 are rigged: 778 / 0.99 are 785.9.
    assert rigged() == ["0.99", "bill", 0, "778", "1572"]
    run(rigging, 96, 4)
    # 288 of 300 and 19.8 of 20: 0.961875, to a thousandth; 682 / 0.962 are 708.9.
    assert rigged() == ["0.962", "runs", 3, "682", "1418"]
    why = api.get(f"planning/requirements/{RIGGED}/").json()["why"]
    said = "By its 3 latest runs, where its bill has 99.0%, 96.2% of the pieces started at Rigging"
    assert any(each.startswith(said) for each in why)
    api.post(f"planning/requirements/{RIGGED}/policy/", {"scrap_ratio": "0.5"})
    assert rigged() == ["0.5", "set", 0, "682", "2728"]
    for wrong in ("1", "-0.1"):
        answer = api.post(f"planning/requirements/{RIGGED}/policy/", {"scrap_ratio": wrong})
        assert answer.status_code == 422
        assert list(answer.json()["facts"]["fields"]) == ["scrap_ratio"]
    assert api.get(f"planning/requirements/{RIGGED}/policy/").json()["scrap_ratio"] == "0.5"


def test_without_painted_bodies_every_stage_is_told_first_things_first(
    released_bills: None, lead: User
) -> None:
    found = ask(due_on=date(2026, 5, 1))
    items = [step.item for step in found.steps]
    assert items == ["HALF-L", "HALF-R", "BODY-70", "PAINTED-70-PERCH", RIGGED]
    assert [step.start is None for step in found.steps] == [False, False, True, True, True]
    days = [step.start_on_last for step in found.steps]
    # A day a stage, as no entry says more: from Friday, May 1st, back to Monday.
    assert days == [date(2026, 4, 28)] * 2 + [
        date(2026, 4, 29), date(2026, 4, 30), date(2026, 5, 1),
    ]  # fmt: skip
    assert found.start_on_last == date(2026, 4, 28)
    assert not found.is_late


def test_coats_dry_and_the_bench_takes_its_hours(rigging: User, lead: User) -> None:
    run(rigging, 10, 0, minutes=60)
    # Some 110 at six minutes are 11 hours: two days of eight.
    two_days = ask(due_on=date(2026, 5, 1))
    assert two_days.steps[-1].start_on_last == date(2026, 4, 30)
    assert two_days.steps[-1].hours is not None
    pace = Pace(coats=4, drying_hours=Decimal(12))
    late = ask(good=1500, due_on=LATER.date() + timedelta(days=3), pace=pace)
    painted = next(step for step in late.steps if step.item == "PAINTED-70-PERCH")
    rigged = late.steps[-1].start_on_last
    assert rigged is not None
    assert painted.start_on_last is not None
    assert painted.start_on_last <= rigged - timedelta(days=3)
    assert late.is_late
    assert any("That is over" in said for said in late.why)


def test_a_wheel_that_turns_too_fast_is_refused_with_how_fast_it_may(
    rigging: User, lead: User
) -> None:
    create_equipment(
        code="W1", name="Wheel", kind="wheel", by=lead, at=NOON, part_kind="station", part_count=24
    )
    query = {"item": "BODY-70", "good": 100, "wheel": "W1", "clamp_seconds": 300}
    fast = Caller(lead).get(DOOR, **query, index_seconds="12.4")
    assert (fast.status_code, fast.json()["code"]) == (422, "wheel_too_fast")
    assert fast.json()["facts"]["index_seconds_min"] == "12.5"
    assert Caller(lead).get(DOOR, **query, index_seconds="12.5").status_code == 200


@pytest.mark.parametrize(
    ("query", "status", "code"),
    [
        ({"item": RIGGED, "good": 0}, 422, "invalid_input"),
        ({"item": RIGGED, "good": 1_000_001}, 422, "invalid_input"),
        ({"item": RIGGED, "good": 10, "chance": "1"}, 422, "invalid_input"),
        ({"item": RIGGED, "good": 10, "chance": "0.4"}, 422, "invalid_input"),
        ({"item": "HOOK-6", "good": 10}, 409, "no_current_bill"),
        ({"item": "NO-SUCH", "good": 10}, 404, "not_found"),
        ({"item": "GLUE", "good": 10}, 422, "invalid_input"),
        ({"item": RIGGED, "good": 10, "due_on": "2026-01-01"}, 422, "invalid_input"),
        ({"item": RIGGED, "good": 10, "wheel": "NO-WHEEL"}, 404, "not_found"),
    ],
)
def test_what_cannot_be_asked_is_refused_with_what_to_do(
    released_bills: None, lead: User, query: dict[str, Any], status: int, code: str
) -> None:
    answer = Caller(lead).get(DOOR, **query)
    assert (answer.status_code, answer.json()["code"]) == (status, code)


def test_the_door_answers_with_defaults(rigging: User) -> None:
    answer = Caller(rigging).get(DOOR, item=RIGGED.lower(), good=50)
    assert answer.status_code == 200
    assert (answer.json()["chance"], answer.json()["due_on"]) == ("0.95", None)


def test_a_retired_lure_is_not_started(rigging: User) -> None:
    change_item(code=RIGGED, fields={"is_active": False}, by=rigging, at=LATER)
    assert Caller(rigging).get(DOOR, item=RIGGED, good=10).json()["code"] == "not_active"


def test_a_stage_that_yields_next_to_nothing_is_out_of_reach(rigging: User) -> None:
    for _ in range(3):
        run(rigging, 1, 290)
    answer = Caller(rigging).get(DOOR, item=RIGGED, good=100, chance="0.99")
    assert (answer.status_code, answer.json()["code"]) == (409, "chance_out_of_reach")


def test_it_takes_eight_statements(rigging: User, django_assert_max_num_queries: Any) -> None:
    with django_assert_max_num_queries(8):
        ask()
