"""Recalls through their doors: a leak, back to its adhesive and forward to every box."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from batches.recall.selectors.asked import Asked
from inventory.stock.models import Disposition, Lot
from inventory.stock.operations import Found, count_lots, dispose_of_lot
from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import Run, at_minute, entry

MOCK = {"kind": "mock", "reason": "Yearly drill"}
REAL = {"kind": "real", "reason": "Three customers say it leaks"}


def balance(answer: Any, item: str) -> dict[str, str]:
    """The figures of an item that are not zero."""
    risk = answer.get("risk", answer)
    row = next(row for row in risk["items"] if row["item"] == item)
    figures = {name: value["amount"] for name, value in row.items() if isinstance(value, dict)}
    return {name: amount for name, amount in figures.items() if amount != "0"}


def dispositions() -> set[str]:
    return set(Lot.objects.filter(on_hand_base__gt=0).values_list("disposition", flat=True))


def test_a_preview_says_where_everything_is_and_writes_nothing(
    returned: Run, api: floor.Caller
) -> None:
    answer = api.post("recalls/preview/", {"lots": [returned.adhesive.code.lower()]})
    assert answer.status_code == 200
    seen = answer.json()
    assert balance(seen, "BODY-70") == {"made": "70", "used": "61", "free": "9"}
    assert balance(seen, "PACKED-70-PERCH") == {
        "made": "60", "shipped": "24", "returned": "2", "free": "36", "stopped": "2",
    }  # fmt: skip
    [customer] = seen["customers"]
    assert customer["outstanding"] == {"amount": "22", "unit": "each"}
    short = seen["in_short"]
    assert short.startswith("22 pieces are still with customers. Lots that are here: ")
    here = [row["balance"] for row in seen["lots"]]
    counts = [sum(row[name]["amount"] != "0" for row in here) for name in ("stopped", "free")]
    assert f"here: {counts[0]} stopped, {counts[1]} free. Of 1 items at risk" in short
    [letter] = seen["letters"]
    assert (letter["customer"], letter["boxes"]) == ("HEN", ["BOX-1"])
    assert api.get("recalls/").json()["count"] == 0
    assert api.get("holds/").json()["count"] == 0


def test_a_real_recall_holds_everything_at_risk_that_is_still_ours(
    run: Run, api: floor.Caller
) -> None:
    answer = api.post("recalls/", {**REAL, "lots": [run.adhesive.code]})
    assert answer.status_code == 201
    case = answer.json()
    assert balance(case, "PACKED-70-PERCH") == {"made": "60", "shipped": "24", "stopped": "36"}
    [hold] = case["holds"]
    assert hold["lot"] == run.adhesive.code
    assert api.get(f"holds/{hold['hold']}/").json()["hold"]["reason"].startswith("Recall Q-")
    run.boxed[1].refresh_from_db()
    assert run.boxed[1].disposition == Disposition.HELD
    untouched = Lot.objects.get(item__code="GLUE-B")
    assert untouched.disposition == Disposition.RELEASED


def test_a_mock_recall_holds_nothing(run: Run, api: floor.Caller) -> None:
    case = api.post("recalls/", {**MOCK, "batches": ["GLUING-1"]}).json()
    assert case["holds"] == []
    assert dispositions() == {Disposition.RELEASED}
    assert case["recall"]["asked"] == "batches GLUING-1"
    assert set(case["recall"]["lots"]) == {run.body_first.code, run.body_second.code}


def test_a_box_that_left_is_recalled_with_what_its_pieces_share(
    run: Run, api: floor.Caller
) -> None:
    seen = api.post("recalls/preview/", {"boxes": ["BOX-1"]}).json()
    assert balance(seen, "PACKED-70-PERCH") == {"parted": "24", "shipped": "24"}


def test_pieces_that_a_count_did_not_find_are_unexplained(
    run: Run, lead: User, api: floor.Caller
) -> None:
    count_lots(found=[Found(run.packed.code, 10, None)], stamp=at_minute(lead, 95))
    dispose_of_lot(lot_code=run.packed.code, qty_base=3, stamp=at_minute(lead, 96))
    seen = api.post("recalls/preview/", {"lots": [run.glue.code]}).json()
    assert balance(seen, "PACKED-70-PERCH") == {
        "made": "60", "shipped": "24", "unexplained": "2", "disposed": "3", "free": "31",
    }  # fmt: skip


def test_pieces_that_an_entry_took_and_nobody_wrote_down_are_unexplained(
    run: Run, lead: User, api: floor.Caller
) -> None:
    before = painting(api, run)
    assert (before["good"]["amount"], before["scrapped"]["amount"]) == ("60", "1")
    assert before["unexplained"] == []
    entry("PAINTING-1", 5, by=lead, minute=99, uses=[(run.body_second.code, 7)])
    assert painting(api, run)["unexplained"] == [
        {"item": "BODY-70", "amount": {"amount": "2", "unit": "each"}}
    ]


def painting(api: floor.Caller, run: Run) -> Any:
    """The painting of what the glue went into."""
    seen = api.post("recalls/preview/", {"lots": [run.glue.code]}).json()
    return next(row for row in seen["runs"] if row["batch"] == "PAINTING-1")


def test_equipment_and_days_name_what_it_made(run: Run, api: floor.Caller) -> None:
    days = {"first_on": "2026-03-02", "last_on": "2026-03-02"}
    nothing = api.post("recalls/preview/", {"equipment": ["W-9"], **days})
    assert nothing.status_code == 404


def test_a_case_is_noted_and_closed_and_keeps_what_was_then(
    returned: Run, api: floor.Caller
) -> None:
    begun = api.post("recalls/", {**REAL, "lots": [returned.glue.code]}).json()
    code = begun["recall"]["code"]
    told = {"reason": "Wrote to them", "customer": "HEN"}
    assert api.post(f"recalls/{code}/notes/", told).status_code == 201
    gone = {"reason": "Broke them up", "customer": "HEN", "item": "PACKED-70-PERCH"}
    too_many = api.post(f"recalls/{code}/notes/", {**gone, "destroyed": 23})
    assert (too_many.status_code, too_many.json()["code"]) == (422, "destroyed_too_many")
    assert too_many.json()["facts"]["outstanding"] == 22
    nobody = api.post(f"recalls/{code}/notes/", {**gone, "customer": "NOBODY", "destroyed": 1})
    assert (nobody.status_code, nobody.json()["code"]) == (404, "not_found")
    noted = api.post(f"recalls/{code}/notes/", {**gone, "destroyed": 22}).json()
    assert noted["risk"]["customers"][0]["outstanding"]["amount"] == "0"
    closed = api.post(f"recalls/{code}/close/", {"reason": "All accounted for"}).json()
    assert closed["recall"]["state"] == "closed"
    assert closed["recall"]["conclusion"] == "All accounted for"
    moments = [row["moment"] for row in closed["figures"]]
    assert set(moments) == {"begun", "closed"}
    again = api.post(f"recalls/{code}/close/", {"reason": "Twice"})
    assert (again.status_code, again.json()["code"]) == (409, "recall_closed")
    late = api.post(f"recalls/{code}/notes/", told)
    assert (late.status_code, late.json()["code"]) == (409, "recall_closed")
    assert dispositions() == {Disposition.HELD, Disposition.RELEASED}


def test_a_case_has_the_complaints_of_what_is_at_risk(run: Run, api: floor.Caller) -> None:
    told = {"defect": "LEAK", "pieces": 2, "told_on": "2026-03-20", "box": "BOX-1"}
    complaint = api.post("complaints/", told).json()["code"]
    of = {
        lot: api.post("recalls/", {**MOCK, "lots": [lot]}).json()["complaints"]
        for lot in (run.glue.code, run.boxed[1].code)
    }
    assert [[row["code"] for row in found] for found in of.values()] == [[complaint], []]


def test_the_words_of_a_case_fit_whatever_it_begins_from() -> None:
    most = Asked(
        lots=["L" * 60] * 100, batches=["B" * 24] * 100, boxes=["X" * 24] * 100,
        equipment=["W" * 24] * 100, first_on=date(2026, 3, 1), last_on=date(2026, 3, 2),
    )  # fmt: skip
    assert len(most.words) <= 600  # as many as the column takes
    assert "and 97 more; batches B" in most.words


def test_letters_are_a_sheet(run: Run, api: floor.Caller) -> None:
    code = api.post("recalls/", {**MOCK, "lots": [run.glue.code]}).json()["recall"]["code"]
    sheet = b"".join(
        api.get("recalls/letters/", recall=code, format="csv").streaming_content
    ).decode()
    head, line = sheet.strip().splitlines()
    assert head.lstrip("\ufeff").startswith("recall,customer,customer_name,address,shipment,at,")
    assert "HEN,A test customer" in line
    assert api.get("recalls/letters/").json()["count"] == 1
    api.post(f"recalls/{code}/close/", {"reason": "Done"})
    assert api.get("recalls/letters/").json()["count"] == 0
    assert api.get("recalls/letters/", recall=code).json()["count"] == 1
    assert api.get("recalls/letters/", recall="Q-2222").json()["code"] == "code_typo"


@pytest.mark.parametrize(
    ("body", "status", "code"),
    [
        ({"lots": []}, 422, "nothing_at_risk"),
        ({"lots": ["L-NONE"]}, 422, "code_typo"),
        ({"boxes": ["BOX-9"]}, 404, "not_found"),
        ({"batches": ["GLUING-9"]}, 404, "not_found"),
        ({"equipment": ["W1"]}, 422, "invalid_input"),
        ({"lots": ["L-2222"], "first_on": "2026-03-02"}, 422, "invalid_input"),
    ],
)
def test_what_names_nothing_is_refused_and_nothing_is_written(
    body: dict[str, Any], status: int, code: str, run: Run, api: floor.Caller
) -> None:
    answer = api.post("recalls/", {**REAL, **body})
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert api.get("recalls/").json()["count"] == 0


def test_a_case_says_why(run: Run, api: floor.Caller) -> None:
    answer = api.post("recalls/", {"kind": "real", "lots": [run.glue.code]})
    assert (answer.status_code, answer.json()["code"]) == (422, "reason_missing")


def test_a_case_is_no_earlier_than_what_it_is_of(run: Run, api: floor.Caller) -> None:
    early = (floor.NOON - timedelta(days=1)).isoformat()
    answer = api.post("recalls/", {**MOCK, "lots": [run.glue.code], "at": early})
    assert answer.json()["code"] == "lot_not_there_yet"


def test_a_scan_leads_to_a_case(run: Run, api: floor.Caller) -> None:
    code = api.post("recalls/", {**MOCK, "lots": [run.glue.code]}).json()["recall"]["code"]
    assert api.get("scan/", code=code).json()["kind"] == "recall"
