"""Checks by their doors: what is asked, judged, held, refused and drawn."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches.quality.models import Check
from batches.quality.selectors import checks as selectors
from batches.runs.operations import reverse
from inventory.stock.models import Hold, Lot
from inventory.stock.operations import split_off
from shopfloor.models import User
from tests.batches import floor
from tests.batches.quality.conftest import FIXED, GRIP, Molded

Mold = Callable[[int], Molded]
PLAN = {"how_many": "plan", "level": "II", "aql": "1.0"}
WEIGHT = {"code": "WEIGHT", "name": "Weight", "stage": "MOLDING", "kind": "measured", **FIXED}
WEIGHT |= {"unit": "g", "lower": "4.0", "upper": "4.4"}


def said(api: floor.Caller, lot: str, tested: int, failed: int, **more: Any) -> Any:
    body = {"definition": "GRIP", "lot": lot, "results": [{"tested": tested, "failed": failed}]}
    return api.post("checks/", {**body, **more})


def test_a_lot_that_passes_stays_free(mold: Mold, grip: Any, api: floor.Caller) -> None:
    lot = mold(100).lot
    answer = said(api, lot, 5, 0)
    assert answer.status_code == 201
    assert (answer.json()["is_passed"], answer.json()["holds"]) == (True, [])
    assert Lot.objects.get(code=lot).disposition == "released"


def test_a_lot_that_fails_is_held_and_a_part_split_off_with_it(
    mold: Mold, grip: Any, api: floor.Caller, lead: User
) -> None:
    lot = mold(100).lot
    part = split_off(lot_code=lot, qty_base=20, stamp=floor.stamp_at(lead, floor.LATER)).code
    answer = said(api, part, 5, 1).json()
    assert (answer["lot"], answer["is_passed"], answer["lot_pieces"]) == (lot, False, 100)
    assert {row.disposition for row in Lot.objects.filter(code__in=[lot, part])} == {"held"}
    hold = Hold.objects.get()
    assert answer["holds"] == [hold.code]
    assert hold.reason == f"Check {answer['code']} failed: Grip, 1 of 5."


def test_a_batch_that_fails_is_held_whole(mold: Mold, grip: Any, api: floor.Caller) -> None:
    made = mold(100)
    results = [{"tested": 5, "failed": 1}]
    answer = api.post(
        "checks/", {"definition": "GRIP", "batch": made.batch, "results": results}
    ).json()
    assert (answer["lot"], answer["batch"], len(answer["holds"])) == (None, made.batch, 1)
    assert Lot.objects.get(code=made.lot).disposition == "held"


def test_the_same_key_checks_once(mold: Mold, grip: Any, api: floor.Caller) -> None:
    body = {"definition": "GRIP", "lot": mold(9).lot, "results": [{"tested": 5, "failed": 1}]}
    first, again = (api.post("checks/", body, key="once").json() for _ in range(2))
    assert first == again
    assert (Check.objects.count(), Hold.objects.count()) == (1, 1)


REFUSED = [
    (101, 0, "check_too_large"),
    (4, 0, "check_too_small"),
    (5, 6, "check_result_unfit"),
    (0, 0, "check_result_unfit"),
]


@pytest.mark.parametrize(("tested", "failed", "code"), REFUSED)
def test_numbers_that_cannot_be_are_refused_and_nothing_is_written(
    mold: Mold, grip: Any, api: floor.Caller, tested: int, failed: int, code: str
) -> None:
    answer = said(api, mold(100).lot, tested, failed)
    assert (answer.status_code, answer.json()["code"]) == (422, code)
    assert (Check.objects.count(), Hold.objects.count()) == (0, 0)


def test_four_of_five_may_be_enough_to_fail(mold: Mold, grip: Any, api: floor.Caller) -> None:
    assert said(api, mold(100).lot, 4, 1).json()["is_passed"] is False


def test_what_was_not_made_here_or_was_undone_is_not_checked(
    mold: Mold, grip: Any, api: floor.Caller, lead: User
) -> None:
    lot = mold(100).lot
    resin = Lot.objects.filter(item__code="RESIN").values_list("code", flat=True)[0]
    bought = said(api, resin, 5, 0)
    entry = api.get("entries/").json()["results"][0]["code"]
    reverse(entry_code=entry, stamp=floor.stamp_at(lead, floor.LATER, reason="slip"))
    undone = said(api, lot, 5, 0)
    assert [answer.json()["code"] for answer in (bought, undone)] == ["nothing_to_check"] * 2


def test_a_check_of_another_stage_is_refused(mold: Mold, api: floor.Caller) -> None:
    lot = mold(100).lot
    api.post("check-definitions/", {**GRIP, **FIXED, "stage": "GLUING"})
    answer = said(api, lot, 5, 0)
    assert (answer.status_code, answer.json()["code"]) == (409, "check_elsewhere")


def test_a_check_before_its_lot_was_made_is_refused(
    mold: Mold, grip: Any, api: floor.Caller
) -> None:
    answer = said(api, mold(100).lot, 5, 0, at="2026-03-02T18:00:00Z")
    assert answer.json()["code"] == "lot_not_there_yet"


def test_a_wrong_check_is_replaced_once(mold: Mold, grip: Any, api: floor.Caller) -> None:
    lot = mold(100).lot
    wrong = said(api, lot, 5, 1).json()["code"]
    right = said(api, lot, 5, 0, replaces=wrong).json()
    again = said(api, lot, 5, 0, replaces=wrong)
    assert right["replaces"] == wrong
    assert api.get(f"checks/{wrong}/").json()["replaced_by"] == right["code"]
    assert again.json()["code"] == "check_replaced"
    assert Lot.objects.get(code=lot).disposition == "held"  # a lead releases it, with a reason


def test_the_plan_says_how_many_and_how_often_bad_lots_pass(mold: Mold, api: floor.Caller) -> None:
    """Code letter J, AQL 1.0: MIL-STD-105E, Tables II-A and X-J-1; 500 pieces, 25 bad: scipy."""
    lot = mold(1000).lot
    api.post("check-definitions/", {**GRIP, **PLAN})
    plan = api.get("checks/plan/", definition="GRIP", lot=lot).json()
    keys = ("lot_pieces", "letter", "test_pieces", "accept", "reject", "severity")
    assert [plan[key] for key in keys] == [1000, "J", 80, 2, 3, "normal"]
    assert plan["curve"][1]["failing_ratio"] == pytest.approx(0.0103, abs=5e-5)
    assert [row["failing_pieces"] for row in plan["of_this_lot"]] == [10, 20, 50, 100, 200]


def test_two_lots_that_fail_tighten_the_plan_and_checking_one_again_does_not_count(
    mold: Mold, api: floor.Caller
) -> None:
    first, second, third = (mold(1000).lot for _ in range(3))
    api.post("check-definitions/", {**GRIP, **PLAN})
    said(api, first, 80, 3)
    said(api, first, 80, 3)
    before = api.get("checks/plan/", definition="GRIP", lot=third).json()
    said(api, second, 80, 3)
    after = api.get("checks/plan/", definition="GRIP", lot=third).json()
    assert (before["severity"], before["accept"]) == ("normal", 2)
    assert (after["severity"], after["accept"]) == ("tightened", 1)


def test_measured_values_are_judged_by_their_limits_and_drawn(
    mold: Mold, api: floor.Caller
) -> None:
    lots = [mold(100).lot for _ in range(2)]
    api.post("check-definitions/", WEIGHT)
    for lot, last in zip(lots, ("4.4", "4.41"), strict=True):
        values = ["4.1", "4.2", "4.2", "4.3", last]
        rows = [{"value": value, "equipment": "MOLD-1-1"} for value in values]
        api.post("checks/", {"definition": "WEIGHT", "lot": lot, "results": rows})
    passed, failed = api.get("checks/").json()["results"]
    assert (passed["failed"], passed["is_passed"]) == (0, True)
    assert (failed["failed"], failed["is_passed"], failed["results"][4]["value"]) == (
        1,
        False,
        "4.41",
    )
    drawn = api.get("checks/chart/", definition="WEIGHT").json()
    assert [chart["kind"] for chart in drawn["charts"]] == ["mean", "range"]
    assert [row["name"] for row in drawn["capability"]["indices"]] == ["cp", "cpk", "pp", "ppk"]


def test_a_chart_of_counts_names_the_rule_that_fired(
    mold: Mold, grip: Any, api: floor.Caller
) -> None:
    codes = [said(api, mold(100).lot, 50, failed).json()["code"] for failed in [*[0] * 9, 20]]
    drawn = api.get("checks/chart/", definition="GRIP").json()["charts"][0]
    assert drawn["kind"] == "np"
    beyond = [hit for hit in drawn["fired"] if hit["rule"] == "beyond_limits"]
    assert [hit["last"] for hit in beyond] == [codes[-1]]


def test_days_without_checks_have_no_chart(grip: Any, api: floor.Caller) -> None:
    days = {"first_on": "2026-01-01", "last_on": "2026-01-02"}
    answer = api.get("checks/chart/", definition="GRIP", **days)
    assert (answer.status_code, answer.json()["code"]) == (422, "too_few_points")


def test_what_was_tested_is_told_by_entry_and_not_what_was_replaced(
    mold: Mold, grip: Any, api: floor.Caller
) -> None:
    lot = mold(100).lot
    wrong = said(api, lot, 5, 1).json()["code"]
    said(api, lot, 6, 1, replaces=wrong)
    entry = Check.objects.all()[0].entry_id
    assert entry is not None
    rows = selectors.pieces_tested([entry], [], defect="").by_entry
    assert [(row.entry_id, row.tested, row.failed) for row in rows] == [(entry, 6, 1)]


def test_what_a_definition_looks_at_stays_once_it_was_checked(
    mold: Mold, grip: Any, api: floor.Caller
) -> None:
    said(api, mold(100).lot, 5, 0)
    change = "check-definitions/GRIP/change/"
    assert api.post(change, {"kind": "flaws"}).json()["code"] == "definition_in_use"
    assert api.post(change, {"fixed_pieces": 8}).json()["fixed_pieces"] == 8


UNFIT: list[dict[str, Any]] = [
    {**GRIP, "how_many": "plan"},
    {**GRIP, "how_many": "fixed"},
    {**GRIP, **FIXED, "accept_pieces": 5},
    {**GRIP, **FIXED, "upper": "3"},
    {**WEIGHT, "lower": None, "upper": None},
    {**WEIGHT, "lower": "5"},
    {**WEIGHT, "unit": ""},
]


@pytest.mark.parametrize("body", UNFIT)
def test_a_definition_whose_values_do_not_go_together_is_refused(
    released_bills: None, api: floor.Caller, body: dict[str, Any]
) -> None:
    answer = api.post("check-definitions/", body)
    assert (answer.status_code, answer.json()["code"]) == (422, "invalid_input")
    assert api.get("check-definitions/").json()["count"] == 0


def test_a_viewer_reads_and_records_nothing(mold: Mold, grip: Any, viewer: User) -> None:
    api = floor.Caller(viewer)
    assert said(api, mold(100).lot, 5, 0).status_code == 403
    assert api.get("checks/").status_code == 200


def test_a_list_of_checks_takes_as_many_statements_for_many(
    mold: Mold, grip: Any, api: floor.Caller
) -> None:
    lot = mold(100).lot
    said(api, lot, 5, 1)
    with CaptureQueriesContext(connection) as few:
        api.get("checks/")
    for _ in range(4):
        said(api, lot, 5, 1)
    with CaptureQueriesContext(connection) as many:
        assert api.get("checks/").json()["count"] == 5
    assert len(many) == len(few) <= 6
