"""Pages of planning: a plan is written, what it asks for is read, questions are answered."""

from __future__ import annotations

from batches.planning.models import BuildPlan
from shopfloor.models import User
from tests.pages import browse, send, text_of


def test_a_plan_is_written_and_leads_to_what_it_asks_for(released_bills: None, lead: User) -> None:
    client = browse(lead)
    sent = send(
        client,
        "/build-plans/new/",
        **{
            "code": "SPRING",
            "name": "Spring",
            "lines.0.item": "BODY-70",
            "lines.0.week_on": "2099-03-04",
            "lines.0.pieces": "500",
        },
    )
    assert sent.headers["Location"] == "/build-plans/SPRING/"
    text = text_of(client.get("/build-plans/SPRING/"))
    assert "BODY-70" in text
    assert "2099-03-02" in text  # its Monday
    assert "SPRING" in text_of(client.get("/build-plans/"))


def test_what_is_wrong_in_a_plan_stands_at_its_field(released_bills: None, lead: User) -> None:
    page = send(browse(lead), "/build-plans/new/", code="SPRING", name="")
    assert page.status_code == 422
    assert 'value="SPRING"' in page.content.decode()
    assert 'id="f-name-wrong"' in page.content.decode()
    assert not BuildPlan.objects.exists()


def test_requirements_are_listed_and_one_item_is_told_week_by_week(
    released_bills: None, lead: User, viewer: User
) -> None:
    client = browse(viewer)
    assert client.get("/planning/requirements/").status_code == 200
    text = text_of(client.get("/planning/requirements/HALF-L/"))
    assert "Why" in text
    assert "What a person decides" not in text  # a viewer decides nothing
    assert client.get("/planning/promises/").status_code == 200
    done = send(browse(lead), "/planning/requirements/HALF-L/policy/", lead_time_days="9")
    assert done.headers["Location"] == "/planning/requirements/HALF-L/"
    assert 'value="9"' in (
        browse(lead).get("/planning/requirements/HALF-L/policy/").content.decode()
    )


def test_a_question_is_answered_above_its_form_and_a_wrong_one_said_at_its_field(
    released_bills: None, viewer: User
) -> None:
    client = browse(viewer)
    form = client.get("/planning/starting/").content.decode()
    assert 'id="answer"' not in form
    answered = client.get("/planning/starting/", {"item": "BODY-70", "good": "20"})
    assert "Start, first things first" in text_of(answered)
    assert 'name="good" value="20"' in answered.content.decode()
    wrong = client.get("/planning/starting/", {"item": "BODY-70", "good": "some"})
    assert wrong.status_code == 422
    assert 'value="some"' in wrong.content.decode()
    assert 'id="f-good-wrong"' in wrong.content.decode()
    built = client.get("/planning/buildable/", {"item": "BODY-70"})
    assert "What it ends at" in text_of(built)
