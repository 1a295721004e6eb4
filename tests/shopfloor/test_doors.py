"""What a door lets in, reads, and does once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from shopfloor.models import RequestKey, User
from shopfloor.roles import Role

pytestmark = pytest.mark.urls("tests.shopfloor.probe")

Enter = Callable[..., User]
ClientOf = Callable[[User], APIClient]

BARE, HALF, READ = "/api/probe/bare/", "/api/probe/half/", "/api/probe/read/"
ONCE, REFUSE = "/api/probe/once/", "/api/probe/refuse/"
BARELY = "/api/probe/no-body/"


def keyed(key: str = "k1") -> dict[str, str]:
    return {"Idempotency-Key": key}


def post_raw(client: Any, body: bytes) -> Any:
    return client.generic("POST", READ, body, content_type="application/json")


# --- Who comes in ---


@pytest.mark.parametrize("role", [role for role in Role if role is not Role.OWNER])
def test_an_undeclared_door_is_for_nobody(role: Role, enter: Enter, client_of: ClientOf) -> None:
    answer = client_of(enter(role)).get(BARE)
    assert (answer.status_code, answer.json()["code"]) == (403, "not_allowed")


def test_an_undeclared_door_is_not_for_the_owner_either(owner_api: APIClient) -> None:
    assert owner_api.get(BARE).status_code == 403


def test_a_method_that_is_not_declared_is_for_nobody(owner_api: APIClient) -> None:
    assert owner_api.get(f"{HALF}?lot=L-1").status_code == 200
    assert owner_api.post(HALF, {}).status_code == 403


def test_head_is_for_whom_get_is(owner_api: APIClient, enter: Enter, client_of: ClientOf) -> None:
    assert owner_api.head(f"{HALF}?lot=L-1").status_code == 200
    assert client_of(enter(Role.BENCH)).head(f"{HALF}?lot=L-1").status_code == 403


def test_a_role_that_is_not_named_is_refused(enter: Enter, client_of: ClientOf) -> None:
    assert client_of(enter(Role.LEAD)).get(f"{HALF}?lot=L-1").status_code == 200
    assert client_of(enter(Role.BENCH)).get(f"{HALF}?lot=L-1").status_code == 403


@pytest.mark.parametrize("method", ["put", "delete", "patch", "options", "trace"])
def test_a_method_no_door_has_is_405_and_names_those_it_has(
    owner_api: APIClient, method: str
) -> None:
    answer = owner_api.generic(method.upper(), HALF)
    assert (answer.status_code, answer.json()["code"]) == (405, "method_not_allowed")
    assert answer["Allow"] == "GET, POST, HEAD"


@pytest.mark.parametrize("header", [{}, {"Authorization": "Basic b2xnYTp4"}])
def test_who_is_not_signed_in_is_told_how(db: None, header: dict[str, str]) -> None:
    answer = APIClient(headers=header).get(BARE)
    assert (answer.status_code, answer.json()["code"]) == (401, "not_signed_in")
    assert answer["WWW-Authenticate"] == "Token"


def test_a_method_no_door_has_is_not_told_to_strangers(db: None) -> None:
    assert APIClient().put(HALF).status_code == 401


# --- What it reads ---


def test_a_body_is_read_into_what_was_meant(owner_api: APIClient) -> None:
    line = {"lot": "l-7.1", "taken": {"amount": "2.50", "unit": "kg"}}
    answer = owner_api.post(READ, {"good": 12, "lines": [line]})
    assert answer.json() == (
        "{'good': 12, 'lines': [{'lot': 'L-7.1', "
        "'taken': Amount(amount=Decimal('2.50'), unit='kg')}]}"
    )


def test_each_wrong_field_is_named_where_it_stands(owner_api: APIClient) -> None:
    good_line = {"lot": "L-1", "taken": {"amount": "1", "unit": "kg"}}
    bad_line = {"lot": "a b", "taken": {"amount": "x", "unit": "stone"}}
    answer = owner_api.post(READ, {"good": -1, "lines": [good_line, bad_line]})
    assert answer.status_code == 422
    problem = answer.json()
    assert problem["code"] == "invalid_input"
    fields = problem["facts"]["fields"]
    assert set(fields) == {"good", "lines"}
    assert set(fields["lines"]["1"]) == {"lot", "taken"}
    assert set(fields["lines"]["1"]["taken"]) == {"amount", "unit"}


def test_an_unknown_field_is_refused_and_the_known_ones_named(owner_api: APIClient) -> None:
    line = {"lot": "L-1", "taken": {"amount": "1", "unit": "kg", "color": "red"}}
    fields = owner_api.post(READ, {"good": 1, "godo": 1, "lines": [line]}).json()["facts"]["fields"]
    assert fields == {
        "godo": ["Unknown field. Known here: good, at, lines."],
        "lines": {"0": {"taken": {"color": ["Unknown field. Known here: amount, unit."]}}},
    }


@pytest.mark.parametrize("body", ["[]", "null", "3", '"x"'])
def test_a_body_that_is_no_object_is_refused(owner_api: APIClient, body: str) -> None:
    answer = owner_api.post(READ, body, content_type="application/json")
    assert answer.status_code == 422
    assert "body" in answer.json()["facts"]["fields"]


@pytest.mark.parametrize(
    "body",
    [
        b'{"good": 1',
        b'{"good": NaN}',
        b'{"good": Infinity}',
        b'{"good": 1e999}',
        b'{"good": 1, "good": 2}',
        b'{"good": "\xff"}',
        b'\xef\xbb\xbf{"good": 1}',
        b"[" * 100_000,
        b"[" * 40 + b"]" * 40,
        b'{"good": ' + b"9" * 5000 + b"}",
    ],
)
def test_json_that_is_not_strict_is_malformed(owner_api: APIClient, body: bytes) -> None:
    answer = post_raw(owner_api, body)
    assert (answer.status_code, answer.json()["code"]) == (400, "malformed_body")


def test_a_lone_surrogate_is_a_wrong_text_not_a_fault(owner_api: APIClient) -> None:
    body = rb'{"good": 1, "lines": [{"lot": "\ud800", "taken": {"amount": "1", "unit": "kg"}}]}'
    answer = post_raw(owner_api, body)
    assert answer.status_code == 422


def test_another_kind_of_body_is_415(owner_api: APIClient) -> None:
    answer = owner_api.post(READ, "good=1", content_type="application/x-www-form-urlencoded")
    assert (answer.status_code, answer.json()["code"]) == (415, "unsupported_media_type")


def test_a_charset_beside_the_media_type_does_not_matter(owner_api: APIClient) -> None:
    answer = owner_api.post(READ, '{"good": 1}', content_type="application/json; charset=utf-8")
    assert answer.status_code == 200


def test_a_body_above_the_limit_is_413(owner_api: APIClient, settings: Any) -> None:
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 10
    just_right = owner_api.post(READ, '{"good":1}', content_type="application/json")
    too_big = owner_api.post(READ, '{"good":12}', content_type="application/json")
    assert (just_right.status_code, too_big.status_code) == (200, 413)
    assert too_big.json()["code"] == "body_too_big"


def test_the_answer_is_json_whatever_is_accepted(owner_api: APIClient) -> None:
    answer = owner_api.get(f"{HALF}?lot=l-1", headers={"Accept": "application/pdf"})
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/json")
    assert answer.json() == {"lot": "L-1"}


def test_an_unknown_query_parameter_is_refused_and_the_known_ones_named(
    owner_api: APIClient,
) -> None:
    answer = owner_api.get(f"{HALF}?lto=L-1")
    assert (answer.status_code, answer.json()["code"]) == (422, "unknown_parameter")
    assert answer.json()["facts"] == {"unknown": ["lto"], "known": ["lot"]}


def test_a_missing_query_parameter_is_named(owner_api: APIClient) -> None:
    assert set(owner_api.get(HALF).json()["facts"]["fields"]) == {"lot"}


# --- Once ---


def test_the_same_request_sent_twice_is_carried_out_once(owner_api: APIClient) -> None:
    first = owner_api.post(ONCE, {"a": [1, 2], "b": None}, headers=keyed())
    people = User.objects.count()
    again = owner_api.post(ONCE, {"b": None, "a": [1, 2]}, headers=keyed())
    assert (first.status_code, first.json()) == (again.status_code, again.json())
    assert first.status_code == 201
    assert User.objects.count() == people


def test_a_new_key_is_a_new_request(owner_api: APIClient) -> None:
    first = owner_api.post(ONCE, {}, headers=keyed("k1")).json()["people"]
    assert owner_api.post(ONCE, {}, headers=keyed("k2")).json()["people"] == first + 1


def test_a_key_with_another_body_is_refused(owner_api: APIClient) -> None:
    owner_api.post(ONCE, {"a": 1}, headers=keyed())
    answer = owner_api.post(ONCE, {"a": 2}, headers=keyed())
    assert (answer.status_code, answer.json()["code"]) == (422, "idempotency_key_reused")


def test_a_key_at_another_address_is_refused(owner_api: APIClient) -> None:
    owner_api.post(ONCE, {}, headers=keyed())
    assert owner_api.post(REFUSE, {}, headers=keyed()).json()["code"] == "idempotency_key_reused"


def test_each_person_has_keys_of_their_own(
    owner_api: APIClient, enter: Enter, client_of: ClientOf
) -> None:
    first = owner_api.post(ONCE, {}, headers=keyed())
    other = client_of(enter(Role.BENCH)).post(ONCE, {}, headers=keyed())
    assert other.status_code == 201
    assert other.json() != first.json()


def test_a_write_without_a_key_is_refused_and_writes_nothing(owner_api: APIClient) -> None:
    people = User.objects.count()
    answer = owner_api.post(ONCE, {})
    assert (answer.status_code, answer.json()["code"]) == (400, "idempotency_key_missing")
    assert User.objects.count() == people


@pytest.mark.parametrize("key", ["x", "x" * 100, "a b", "3f-~!"])
def test_a_printable_key_of_up_to_100_characters_is_taken(owner_api: APIClient, key: str) -> None:
    assert owner_api.post(ONCE, {}, headers=keyed(key)).status_code == 201


@pytest.mark.parametrize("key", ["", "  ", "x" * 101, "schlüssel", "a\tb", "\x7f"])
def test_a_key_that_cannot_be_kept_is_refused(owner_api: APIClient, key: str) -> None:
    answer = owner_api.post(ONCE, {}, headers=keyed(key))
    assert (answer.status_code, answer.json()["code"]) == (400, "idempotency_key_invalid")


def test_a_refusal_writes_nothing_and_leaves_the_key_free(owner_api: APIClient) -> None:
    answer = owner_api.post(REFUSE, {}, headers=keyed())
    assert (answer.status_code, answer.json()["code"]) == (409, "bench_full")
    assert not User.objects.filter(username="written").exists()
    assert not RequestKey.objects.exists()


def test_a_body_where_none_is_taken_is_refused_not_left_out(owner_api: APIClient) -> None:
    answer = owner_api.post(BARELY, {"reason": "left us"}, headers=keyed())
    assert (answer.status_code, answer.json()["code"]) == (422, "invalid_input")
    assert answer.json()["facts"]["fields"] == {"reason": ["Unknown field. None is known here."]}
    assert owner_api.post(BARELY, {}, headers=keyed()).status_code == 201
    assert owner_api.post(BARELY, headers=keyed("k2")).status_code == 201


def test_a_list_where_no_body_is_taken_is_refused(owner_api: APIClient) -> None:
    answer = owner_api.post(BARELY, [1], headers=keyed())
    assert (answer.status_code, set(answer.json()["facts"]["fields"])) == (422, {"body"})


# --- Pages ---


def test_a_page_sends_strangers_to_sign_in_and_back(db: None, client: Any) -> None:
    answer = client.get("/probe/lead/?lot=L-1")
    assert (answer.status_code, answer.url) == (302, "/sign-in/?next=/probe/lead/%3Flot%3DL-1")


def test_a_fragment_sends_the_whole_page_to_sign_in(db: None, client: Any) -> None:
    answer = client.get("/probe/lead/", headers={"HX-Request": "true"})
    assert (answer.status_code, answer["HX-Redirect"]) == (401, "/sign-in/?next=/")


def test_a_page_is_for_the_roles_it_declares(enter: Enter, client: Any) -> None:
    client.force_login(enter(Role.LEAD), backend="django.contrib.auth.backends.ModelBackend")
    assert client.get("/probe/lead/").content == b"for lead"
    assert client.post("/probe/lead/").status_code == 403
    assert client.put("/probe/lead/").status_code == 405
    client.force_login(enter(Role.BENCH), backend="django.contrib.auth.backends.ModelBackend")
    assert client.get("/probe/lead/").status_code == 403


def test_a_form_sent_twice_is_carried_out_once(owner: User, client: Any) -> None:
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    first = client.post("/probe/once/", {"idempotency_key": "f1", "csrfmiddlewaretoken": "a"})
    again = client.post("/probe/once/", {"idempotency_key": "f1", "csrfmiddlewaretoken": "b"})
    assert first.content == again.content == b"2"
    assert client.post("/probe/once/", {}).status_code == 400
