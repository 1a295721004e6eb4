"""Doors of the ground floor: a good call, a problem, a refused role; each list by its queries."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import OperationalError, connection
from rest_framework.test import APIClient

from shopfloor.models import RequestKey, Token, User
from shopfloor.operations import change_role, let_sign_in
from shopfloor.roles import Role
from shopfloor.selectors import person_named
from tests.shopfloor.conftest import MONDAY, PASSWORD

Enter = Callable[..., User]
ClientOf = Callable[[User], APIClient]
KEY = {"Idempotency-Key": "k1"}

PEOPLE, TOKENS = "/api/v1/people/", "/api/v1/tokens/"
WILLA = {"username": "willa", "display_name": "Willa W", "role": "bench"}

OWNER_ONLY = [
    ("post", f"{PEOPLE}olga/sign-out-everywhere/", None),
    ("get", "/api/v1/access-events/", None),
    ("get", PEOPLE, None),
    ("post", PEOPLE, WILLA),
    ("post", f"{PEOPLE}olga/role/", {"role": "lead"}),
    ("post", f"{PEOPLE}olga/active/", {"is_active": False}),
    ("post", f"{PEOPLE}olga/password/", {"password": "nine dry herons"}),
    ("post", f"{PEOPLE}olga/blank/", None),
    ("get", TOKENS, None),
    ("post", TOKENS, {"username": "olga", "name": "x"}),
    ("post", f"{TOKENS}1/revoke/", None),
]


@pytest.mark.parametrize(("method", "address", "body"), OWNER_ONLY)
@pytest.mark.parametrize("role", [Role.LEAD, Role.BENCH, Role.PACKER, Role.VIEWER])
def test_doors_of_people_are_for_owners(
    role: Role, method: str, address: str, body: Any, enter: Enter, client_of: ClientOf
) -> None:
    client = client_of(enter(role))
    answer = getattr(client, method)(address, body, headers=KEY)
    assert (answer.status_code, answer.json()["code"]) == (403, "not_allowed")


# --- What there is, who I am ---


def test_the_root_lists_what_the_person_may_use(owner_api: APIClient) -> None:
    rows = owner_api.get("/api/v1/").json()["addresses"]
    assert {"address": PEOPLE, "methods": ["GET", "POST"]} in rows
    assert {"address": "/api/v1/people/{username}/role/", "methods": ["POST"]} in rows
    assert {"address": "/api/v1/schema/", "methods": ["GET"]} in rows
    assert rows == sorted(rows, key=lambda row: row["address"])


def test_the_root_leaves_out_what_the_person_may_not_use(enter: Enter, client_of: ClientOf) -> None:
    rows = client_of(enter(Role.VIEWER)).get("/api/v1/").json()["addresses"]
    addresses = {row["address"] for row in rows}
    assert "/api/v1/me/" in addresses
    assert not any(address.startswith((PEOPLE, TOKENS)) for address in addresses)


def test_everybody_sees_who_they_are(enter: Enter, client_of: ClientOf) -> None:
    assert client_of(enter(Role.VIEWER)).get("/api/v1/me/").json() == {
        "username": "viewer",
        "display_name": "The viewer",
        "role": "viewer",
        "is_active": True,
        "created_at": "2026-03-02T15:00:00Z",
        "blanked_at": None,
    }


@pytest.mark.parametrize("address", ["", "me/", "people/", "tokens/", "schema/"])
def test_an_address_asks_for_a_sign_in(db: None, address: str) -> None:
    answer = APIClient().get(f"/api/v1/{address}")
    assert (answer.status_code, answer["WWW-Authenticate"]) == (401, "Token")
    assert answer["Content-Type"] == "application/problem+json"


def test_a_session_of_the_pages_lets_into_the_api(owner: User) -> None:
    client = APIClient()
    client.post("/sign-in/", {"username": "olga", "password": PASSWORD}, format="multipart")
    assert client.get("/api/v1/me/").json()["username"] == "olga"


# --- Health ---


def test_the_health_check_needs_no_sign_in(db: None) -> None:
    answer = APIClient().get("/health/")
    assert (answer.status_code, answer.json()) == (200, {"status": "ok"})


def gone(*_: Any) -> Any:
    raise OperationalError("secret inside")


def test_the_health_check_is_503_when_the_database_is_gone(db: None) -> None:
    with connection.execute_wrapper(gone):
        answer = APIClient().get("/health/")
    assert answer.status_code == 503
    assert answer.json()["code"] == "database_unavailable"
    assert answer["Retry-After"] == "5"
    assert "secret" not in answer.content.decode()


def test_a_sign_in_while_the_database_is_gone_is_503_and_not_401(owner_api: APIClient) -> None:
    with connection.execute_wrapper(gone):
        answer = owner_api.get("/api/v1/me/")
    assert (answer.status_code, answer.json()["code"]) == (503, "database_unavailable")


# --- People ---


def test_an_owner_enters_a_person(owner_api: APIClient) -> None:
    answer = owner_api.post(PEOPLE, {**WILLA, "password": PASSWORD}, headers=KEY)
    assert answer.status_code == 201
    assert (answer.json()["username"], answer.json()["role"]) == ("willa", "bench")
    assert person_named("willa").check_password(PASSWORD)


@pytest.mark.parametrize(
    ("change", "status", "code"),
    [
        ({"role": "king"}, 422, "invalid_input"),
        ({"username": "a/b"}, 422, "invalid_input"),
        ({"password": "123"}, 422, "password_weak"),
        ({"display_name": ""}, 422, "invalid_input"),
        ({"is_superuser": True}, 422, "invalid_input"),
        ({"username": "olga"}, 409, "username_taken"),
    ],
)
def test_a_person_who_cannot_be_is_refused(
    owner_api: APIClient, change: dict[str, Any], status: int, code: str
) -> None:
    answer = owner_api.post(PEOPLE, {**WILLA, **change}, headers=KEY)
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert User.objects.count() == 1


def test_a_password_sent_again_is_told_apart_but_not_kept_as_a_fast_hash(
    owner_api: APIClient,
) -> None:
    body = {**WILLA, "password": PASSWORD}
    first = owner_api.post(PEOPLE, body, headers=KEY)
    again = owner_api.post(PEOPLE, body, headers=KEY)
    other = owner_api.post(PEOPLE, {**body, "password": "nine dry herons"}, headers=KEY)
    assert first.json() == again.json()
    assert other.json()["code"] == "idempotency_key_reused"
    assert PASSWORD not in str(RequestKey.objects.get().answer)


def test_an_owner_changes_role_access_password_and_name(owner_api: APIClient, enter: Enter) -> None:
    bench = enter(Role.BENCH)
    at = f"{PEOPLE}bench/"

    def post(verb: str, body: Any) -> Any:
        return owner_api.post(f"{at}{verb}/", body, headers={"Idempotency-Key": verb})

    assert post("role", {"role": "packer"}).json()["role"] == "packer"
    assert post("active", {"is_active": False}).json()["is_active"] is False
    assert post("password", {"password": "nine dry herons"}).status_code == 200
    assert person_named("bench").check_password("nine dry herons")
    blanked = post("blank", None)
    assert (blanked.status_code, blanked.json()["username"]) == (200, f"blanked-{bench.pk}")
    assert owner_api.post(f"{at}role/", {"role": "lead"}, headers=KEY).status_code == 404


def test_the_last_owner_cannot_step_down(owner_api: APIClient) -> None:
    answer = owner_api.post(f"{PEOPLE}olga/role/", {"role": "lead"}, headers=KEY)
    assert (answer.status_code, answer.json()["code"]) == (409, "last_owner")


def test_a_person_changes_their_own_password(enter: Enter, client_of: ClientOf) -> None:
    client = client_of(enter(Role.VIEWER))
    wrong = {"present": "x", "password": "nine dry herons"}
    answer = client.post("/api/v1/me/password/", wrong, headers=KEY)
    assert (answer.status_code, answer.json()["code"]) == (422, "password_wrong")
    right = {**wrong, "present": PASSWORD}
    assert client.post("/api/v1/me/password/", right, headers=KEY).status_code == 200


# --- Lists ---


def test_people_are_filtered_searched_ordered_and_paged(owner_api: APIClient, enter: Enter) -> None:
    enter(Role.BENCH, username="bea", display_name="Bea Bench")
    enter(Role.BENCH, username="bob", display_name="Bob Bench")
    enter(Role.VIEWER, username="vic")

    def names(query: str) -> list[str]:
        rows = owner_api.get(f"{PEOPLE}?{query}").json()["results"]
        return [row["username"] for row in rows]

    assert names("") == ["bea", "bob", "olga", "vic"]
    assert names("role=bench") == ["bea", "bob"]
    assert names("search=bench") == ["bea", "bob"]
    assert names("ordering=-role,-username") == ["vic", "olga", "bob", "bea"]
    assert names("ordering=created_at") == ["olga", "bea", "bob", "vic"]  # all at once: by row
    assert names("page=2&page_size=3") == ["vic"]


@pytest.mark.parametrize(
    ("query", "status", "code"),
    [
        ("role=king", 422, "invalid_input"),
        ("rol=bench", 422, "unknown_parameter"),
        ("ordering=password", 422, "ordering_unknown"),
        ("search=%00", 422, "invalid_input"),
        ("page=9", 404, "not_found"),
        ("page=x", 404, "not_found"),
        ("page=" + "9" * 40, 404, "not_found"),
    ],
)
def test_a_list_refuses_what_it_cannot_mean(
    owner_api: APIClient, query: str, status: int, code: str
) -> None:
    answer = owner_api.get(f"{PEOPLE}?{query}")
    assert (answer.status_code, answer.json()["code"]) == (status, code)


def test_a_list_without_search_does_not_know_the_word(owner_api: APIClient) -> None:
    answer = owner_api.get(f"{TOKENS}?search=x")
    assert answer.json()["facts"] == {
        "unknown": ["search"],
        "known": ["username", "is_revoked", "ordering", "page", "page_size", "format"],
    }


@pytest.mark.parametrize("page_size", ["200", "201", "999999999999999999999999"])
def test_a_page_has_at_most_200_rows(owner: User, client_of: ClientOf, page_size: str) -> None:
    Token.objects.bulk_create(
        Token(user=owner, name="x", digest=str(n), hint="", created_at=MONDAY) for n in range(205)
    )
    body = client_of(owner).get(f"{TOKENS}?page_size={page_size}").json()
    assert (body["count"], len(body["results"])) == (206, 200)


@pytest.mark.parametrize("address", [PEOPLE, TOKENS])
def test_a_list_takes_three_queries_however_long_it_is(
    owner_api: APIClient, enter: Enter, client_of: ClientOf, address: str,
    django_assert_num_queries: Any,
) -> None:  # fmt: skip
    client_of(enter(Role.BENCH))
    client_of(enter(Role.VIEWER))
    owner_api.get(address)  # the first use of the token on a day is marked
    with django_assert_num_queries(3):  # the token with its person, the count, the rows
        assert owner_api.get(address).json()["count"] == 3


# --- Tokens ---


def test_a_token_is_shown_once(owner_api: APIClient) -> None:
    body = {"username": "olga", "name": "scale"}
    first = owner_api.post(TOKENS, body, headers=KEY)
    again = owner_api.post(TOKENS, body, headers=KEY)
    text = first.json()["token"]
    assert first.status_code == 201
    assert (
        APIClient(headers={"Authorization": f"Token {text}"}).get("/api/v1/me/").status_code == 200
    )
    assert again.json() == {**first.json(), "token": None}
    assert text not in str(RequestKey.objects.get().answer)
    assert text not in owner_api.get(TOKENS).content.decode()


def test_a_token_of_nobody_is_refused(owner_api: APIClient) -> None:
    answer = owner_api.post(TOKENS, {"username": "nobody", "name": "x"}, headers=KEY)
    assert (answer.status_code, answer.json()["code"]) == (404, "not_found")


def test_a_revoked_token_lets_nobody_in(owner_api: APIClient) -> None:
    issued = owner_api.post(TOKENS, {"username": "olga", "name": "x"}, headers=KEY).json()
    revoke = {"Idempotency-Key": "k2"}
    assert owner_api.post(f"{TOKENS}{issued['id']}/revoke/", headers=revoke).status_code == 200
    refused = APIClient(headers={"Authorization": f"Token {issued['token']}"}).get("/api/v1/me/")
    assert (refused.status_code, refused.json()["code"]) == (401, "token_refused")
    assert refused["WWW-Authenticate"] == "Token"
    revoked = owner_api.get(f"{TOKENS}?is_revoked=true").json()["results"]
    assert [row["id"] for row in revoked] == [issued["id"]]


@pytest.mark.parametrize(
    "header", ["Token", "Token a b", "Token nonsense", "Token \xff", "token x"]
)
def test_a_token_that_is_none_is_refused(db: None, header: str) -> None:
    answer = APIClient(headers={"Authorization": header}).get("/api/v1/me/")
    assert (answer.status_code, answer.json()["code"]) == (401, "token_refused")


def test_who_was_shut_out_is_out_at_once_with_token_and_session(
    owner: User, enter: Enter, client_of: ClientOf
) -> None:
    bench = enter(Role.BENCH)
    by_token, by_session = client_of(bench), APIClient()
    by_session.post("/sign-in/", {"username": "bench", "password": PASSWORD}, format="multipart")
    assert by_session.get("/api/v1/me/").status_code == 200
    let_sign_in(username="bench", is_active=False, by=owner, at=MONDAY)
    assert by_token.get("/api/v1/me/").status_code == 401
    assert by_session.get("/api/v1/me/").status_code == 401


def test_a_new_role_counts_at_once(owner: User, enter: Enter, client_of: ClientOf) -> None:
    enter(Role.OWNER, username="odette")
    client = client_of(owner)
    assert client.get(PEOPLE).status_code == 200
    change_role(username="olga", role=Role.VIEWER, by=person_named("odette"), at=MONDAY)
    assert client.get(PEOPLE).status_code == 403


def test_a_token_number_no_database_holds_is_not_found(owner_api: APIClient) -> None:
    assert owner_api.post(f"{TOKENS}{10**30}/revoke/", headers=KEY).status_code == 404


# --- The description ---


def test_the_description_tells_of_keys_problems_roles_and_the_paged_list(
    owner_api: APIClient,
) -> None:
    schema = owner_api.get("/api/v1/schema/?format=json").json()
    post, get = schema["paths"][PEOPLE]["post"], schema["paths"][PEOPLE]["get"]
    header = next(p for p in post["parameters"] if p["in"] == "header")
    assert (header["name"], header["required"]) == ("Idempotency-Key", True)
    assert "Roles: owner." in post["description"]
    assert set(post["responses"]) == {"201", "4XX", "5XX"}
    assert "application/problem+json" in post["responses"]["4XX"]["content"]
    listed = get["responses"]["200"]["content"]["application/json"]["schema"]["$ref"]
    page = schema["components"]["schemas"][listed.rpartition("/")[2]]
    assert set(page["properties"]) == {"count", "next", "previous", "results"}
    assert {p["name"] for p in get["parameters"]} == {
        "role", "is_active", "search", "ordering", "page", "page_size", "format",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("search", "found"),
    [
        ("olga owner", ["olga"]),
        ("OWN olg", ["olga"]),
        ("o'neil", ["owen"]),
        ("'", ["owen"]),
        ('"', []),
        ("%", []),
        ("_", []),
        ("\\", []),
        (",", []),
        ("  ", ["olga", "owen"]),
    ],
)
def test_a_search_is_for_words_as_they_are_written(
    owner_api: APIClient, enter: Enter, search: str, found: list[str]
) -> None:
    enter(Role.BENCH, username="owen", display_name="Owen O'Neil")
    rows = owner_api.get(PEOPLE, {"search": search}).json()["results"]
    assert [row["username"] for row in rows] == found
