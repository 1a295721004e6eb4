"""Pages of recalls: look first, begin, note whom was reached, close."""

from __future__ import annotations

from typing import Any

from batches.recall.models import Recall
from inventory.stock.models import Hold
from shopfloor.models import User
from tests.batches.trace.conftest import Run
from tests.pages import browse, send, text_of


def begun(lead: User, run: Run, **fields: Any) -> Any:
    return send(
        browse(lead),
        "/recalls/new/",
        **{"lots": run.adhesive.code, "kind": "real", "reason": "It leaks", **fields},
    )


def test_looking_shows_what_is_at_risk_on_the_same_page_and_holds_nothing(
    returned: Run, lead: User
) -> None:
    page = begun(lead, returned, look="yes", reason="", kind="")
    assert page.status_code == 200
    text = text_of(page)
    assert f"At risk now, of {returned.adhesive.code}" in text
    assert "22 pieces are still with customers." in text
    html = page.content.decode()
    assert html.index('id="risk"') < html.index('<form class="card act')  # on the first screen
    assert html.index('name="look"') < html.index('name="kind"')  # and Enter only looks
    assert "HEN A test customer" in text
    assert returned.adhesive.code in page.content.decode()
    assert not Hold.objects.exists()
    assert not Recall.objects.exists()


def test_beginning_holds_and_leads_to_the_case_that_says_who_is_not_reached_yet(
    run: Run, lead: User
) -> None:
    answer = begun(lead, run)
    case = Recall.objects.get()
    assert answer.headers["Location"] == f"/recalls/{case.code}/"
    client = browse(lead)
    page = client.get(answer.headers["Location"])
    assert "1 of 1 customers who got something is in no note yet" in text_of(page)
    assert " pieces are still with customers. Lots that are here: " in text_of(page)
    assert 'href="notes/new/?customer=HEN"' in page.content.decode()
    assert f"/api/v1/labels/recalls/{case.code}.pdf" in page.content.decode()
    noted = send(client, f"/recalls/{case.code}/notes/new/", customer="HEN", reason="By phone")
    assert noted.headers["Location"] == f"/recalls/{case.code}/"
    assert "All 1 customers who got something are in a note." in text_of(
        client.get(f"/recalls/{case.code}/")
    )
    closed = send(client, f"/recalls/{case.code}/close/", reason="All found")
    assert closed.status_code == 302
    text = text_of(client.get(f"/recalls/{case.code}/"))
    assert "Close it" not in text
    assert "All found" in text


def test_what_is_wrong_stands_at_its_field_and_nothing_is_begun(run: Run, lead: User) -> None:
    page = begun(lead, run, reason="")
    assert page.status_code == 422
    assert run.adhesive.code in page.content.decode()
    assert 'id="f-reason-wrong"' in page.content.decode()
    none = begun(lead, run, lots="", look="yes")
    assert none.status_code == 422
    assert not Recall.objects.exists()


def test_letters_are_listed_and_a_bench_begins_no_recall(run: Run, lead: User, bench: User) -> None:
    begun(lead, run)
    assert "BOX-1" in text_of(browse(bench).get("/recalls/letters/"))
    assert browse(bench).get("/recalls/new/").status_code == 403
