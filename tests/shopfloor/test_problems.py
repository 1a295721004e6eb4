"""Every refusal and failure as a program and a person get it, with nothing of the inside."""

from __future__ import annotations

import logging
from typing import Any

import pytest
from django.test import Client, override_settings
from rest_framework import exceptions as drf
from rest_framework import serializers
from rest_framework.test import APIClient

from shopfloor.models import User
from shopfloor.problems import Problem, field_errors

pytestmark = pytest.mark.urls("tests.shopfloor.probe")

STATUSES = [
    ("refusal", 409, "bench_full"),
    ("missing", 404, "not_found"),
    ("denied", 403, "not_allowed"),
    ("suspicious", 400, "bad_request"),
    ("big", 413, "body_too_big"),
    ("busy", 503, "database_busy"),
    ("gone", 503, "database_unavailable"),
]


@pytest.mark.parametrize(("fault", "status", "code"), STATUSES)
def test_a_program_gets_problem_json(
    owner_api: APIClient, fault: str, status: int, code: str
) -> None:
    answer = owner_api.get(f"/api/probe/fault/{fault}/")
    assert answer.status_code == status
    assert answer["Content-Type"] == "application/problem+json"
    problem = answer.json()
    assert (problem["status"], problem["code"]) == (status, code)
    assert problem["type"] == f"/problems/{code}"
    assert problem["instance"] == f"/api/probe/fault/{fault}/"
    assert "secret" not in answer.content.decode()


@pytest.mark.parametrize(("fault", "status", "code"), STATUSES)
def test_a_person_gets_the_same_as_a_page(db: None, fault: str, status: int, code: str) -> None:
    answer = Client().get(f"/probe/fault/{fault}/")
    page = answer.content.decode()
    assert answer.status_code == status
    assert f"<h2>{code.replace('_', ' ').capitalize()}</h2>" in page
    assert "<!doctype html>" in page
    assert "secret" not in page


def test_the_problem_holds_the_facts(owner_api: APIClient) -> None:
    answer = owner_api.get("/api/probe/fault/refusal/")
    assert answer.json() == {
        "type": "/problems/bench_full",
        "title": "Bench full",
        "status": 409,
        "detail": "The bench is full. Clear it.",
        "instance": "/api/probe/fault/refusal/",
        "code": "bench_full",
        "facts": {"places": 4},
        "request_id": answer["X-Request-ID"],
    }


def test_htmx_gets_a_fragment_for_the_place_of_problems(db: None) -> None:
    answer = Client().get("/probe/fault/refusal/", headers={"HX-Request": "true"})
    assert (answer["HX-Retarget"], answer["HX-Reswap"]) == ("#problem", "innerHTML")
    assert "<html" not in answer.content.decode()
    assert "The bench is full. Clear it." in answer.content.decode()


def test_an_unavailable_database_says_when_to_come_back(owner_api: APIClient) -> None:
    assert owner_api.get("/api/probe/fault/busy/")["Retry-After"] == "5"


@pytest.mark.parametrize("fault", ["bug", "no-table"])
@pytest.mark.parametrize("start", ["/api/probe", "/probe"])
def test_a_fault_of_ours_is_a_number_to_quote_and_stands_in_the_log(
    owner: User, client_of: Any, start: str, fault: str, caplog: pytest.LogCaptureFixture
) -> None:
    client = client_of(owner)
    client.raise_request_exception = False
    with caplog.at_level(logging.ERROR, logger="shopfloor.problems"):
        answer = client.get(f"{start}/fault/{fault}/")
    said = answer.content.decode()
    assert answer.status_code == 500
    record = next(record for record in caplog.records if record.name == "shopfloor.problems")
    number = str(record.args[0]) if isinstance(record.args, tuple) else ""
    assert len(number) == 12
    assert number in said
    assert record.exc_info is not None
    assert not any(word in said for word in ("secret", "Traceback", "ZeroDivision"))


def test_an_address_that_leads_nowhere_is_404_for_both(db: None) -> None:
    page, program = Client().get("/nowhere/"), APIClient().get("/api/v1/nowhere/")
    assert (page.status_code, program.status_code) == (404, 404)
    assert "<h2>Not found</h2>" in page.content.decode()
    assert program.json()["code"] == "not_found"


def test_a_nul_in_the_address_is_a_bad_request(db: None) -> None:
    answer = APIClient().get("/api/v1/people/a%00b/role/")
    assert (answer.status_code, answer.json()["code"]) == (400, "bad_request")


def test_a_host_we_do_not_answer_to_is_a_bad_request(db: None) -> None:
    answer = APIClient().get("/api/v1/me/", headers={"Host": "elsewhere.invalid"})
    assert (answer.status_code, answer.json()["code"]) == (400, "bad_request")


def test_a_form_from_elsewhere_is_told_to_load_the_page_again(db: None) -> None:
    answer = Client(enforce_csrf_checks=True).post("/sign-in/", {})
    assert answer.status_code == 403
    assert "<h2>Csrf failed</h2>" in answer.content.decode()


def test_a_session_without_the_csrf_token_cannot_write_to_the_api(owner: User) -> None:
    client = APIClient(enforce_csrf_checks=True)
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    answer = client.post("/api/probe/once/", {}, headers={"Idempotency-Key": "k"})
    assert (answer.status_code, answer.json()["code"]) == (403, "csrf_failed")


def test_a_problem_page_says_what_a_code_is(owner: User) -> None:
    client = Client()
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    assert "The bench is full." in client.get("/problems/bench_full").content.decode()
    assert client.get("/problems/unheard_of").status_code == 404


def test_facts_become_lines_of_a_page_but_for_those_in_base_units() -> None:
    facts = {
        "fields": {"lines": {"0": {"lot_code": ["Wrong.", "Long."]}}},
        "on_hand_base": 5,
        "left": 5,
    }
    assert Problem(422, "x", "", facts).lines == [
        ("lines 0 lot code", "Wrong., Long."),
        ("left", "5"),
    ]


def test_a_field_that_the_detail_told_of_is_not_said_twice() -> None:
    facts = {"fields": {"lines": ["None."], "note": ["Long."]}}
    assert Problem(422, "x", "lines: None.", facts).lines == [("note", "Long.")]


def test_what_is_wrong_with_an_amount_and_its_unit_is_no_amount() -> None:
    facts = {"fields": {"found": {"amount": ["Not so."], "unit": ["Nor so."]}}}
    lines = Problem(422, "x", "", facts).lines
    assert lines == [("found amount", "Not so."), ("found unit", "Nor so.")]


def test_amounts_and_moments_of_the_facts_are_written_as_people_read_them() -> None:
    wanted = {"lot": "L-1", "wanted": {"amount": "2", "unit": "kg"}}
    facts = {"amount": "1.5", "at": "2027-12-24T16:00:00+00:00", "lots": [wanted]}
    with override_settings(SHOP_TIME_ZONE="America/Chicago"):
        assert Problem(422, "x", "", facts).lines == [
            ("amount", "1.5"),
            ("at", "2027-12-24 10:00"),
            ("lots", "lot L-1, wanted 2 kg"),
        ]


def test_what_the_framework_says_of_a_slip_is_said_in_our_words() -> None:
    said = drf.ValidationError({"packs": ["A valid integer is required."], "note": ["Our own."]})
    assert field_errors(said) == {
        "packs": ["Write a whole number, like 12."],
        "note": ["Our own."],
    }


class _EverySlip(serializers.Serializer[Any]):
    least = serializers.IntegerField(min_value=1)
    most = serializers.IntegerField(max_value=9)
    short = serializers.CharField(min_length=2)
    long = serializers.CharField(max_length=2)
    blank = serializers.CharField()
    none = serializers.CharField()
    missing = serializers.CharField()
    few = serializers.ListField(min_length=1)
    lots = serializers.ListField(max_length=1)
    text = serializers.CharField()
    flag = serializers.BooleanField()
    listed = serializers.ListField()


def test_no_stock_english_is_left_for_what_forms_are_wrong_about() -> None:
    """Made by the framework itself, so that its next words are noticed."""
    shape = _EverySlip(
        data={"least": 0, "most": 10, "short": "a", "long": "abc", "blank": "", "none": None}
        | {"few": [], "lots": [1, 2], "text": [], "flag": "perhaps", "listed": "x"}
    )
    assert not shape.is_valid()
    said = field_errors(drf.ValidationError(shape.errors))
    assert said["long"] == ["This is too long. Use at most 2 characters."]
    assert said.keys() == shape.fields.keys()
    assert not [name for name in said if said[name] == shape.errors[name]]
