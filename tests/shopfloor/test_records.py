"""Who changed what, and who came in, as the API shows it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.test import Client
from rest_framework.test import APIClient

from shopfloor.models import AccessEvent, User
from shopfloor.operations import blank_name, change_role, issue_token, set_password
from shopfloor.roles import Role
from tests.shopfloor.conftest import MONDAY, PASSWORD

CHANGES, EVENTS = "/api/v1/changes/", "/api/v1/access-events/"
Enter = Callable[..., User]


@pytest.fixture
def history(owner: User, enter: Enter) -> User:
    """A bench person who became a packer on Tuesday, by the owner."""
    bench = enter(Role.BENCH)
    change_role(username="bench", role=Role.PACKER, by=owner, at=MONDAY.replace(day=3))
    return bench


def rows(api: APIClient, address: str, query: str = "") -> list[dict[str, Any]]:
    answer = api.get(f"{address}?{query}")
    assert answer.status_code == 200
    found: list[dict[str, Any]] = answer.json()["results"]
    return found


def test_an_edit_says_who_when_and_from_what_to_what(owner_api: APIClient, history: User) -> None:
    person = {"table": "shopfloor_user", "row_code": str(history.pk), "row_name": "bench"}
    assert rows(owner_api, CHANGES)[0] == {
        "at": "2026-03-03T15:00:00Z",
        "by": "olga",
        **person,
        "noun": "person",
        "before": {"role": "bench"},
        "after": {"role": "packer"},
        "units": {},
    }


@pytest.mark.parametrize(
    ("query", "count"),
    [
        ("table=shopfloor_user", 3),
        ("table=shopfloor_token", 1),
        ("table=shopfloor_user&at_after=2026-03-03T00:00:00Z", 1),
        ("at_before=2026-03-03T00:00:00Z", 3),
        ("by=olga", 4),
        ("by=bench", 0),
        ("row_code=0", 0),
    ],
)
def test_edits_are_found_by_table_row_person_and_time(
    owner_api: APIClient, history: User, query: str, count: int
) -> None:
    assert len(rows(owner_api, CHANGES, query)) == count
    mine = rows(owner_api, CHANGES, f"table=shopfloor_user&row_code={history.pk}")
    assert [row["after"].get("role") for row in mine] == ["packer", "bench"]


def test_a_blanked_name_stands_in_neither(owner_api: APIClient, history: User, owner: User) -> None:
    Client().post("/sign-in/", {"username": "bench", "password": PASSWORD})
    blank_name(username="bench", by=owner, at=MONDAY)
    for address in (CHANGES, EVENTS):
        assert "bench" not in {row.get("username") for row in rows(owner_api, address)}
        assert "bench" not in {row.get("row_name") for row in rows(owner_api, address)}


def test_ways_in_are_found_by_what_whose_where_and_when(owner_api: APIClient, owner: User) -> None:
    client = Client(REMOTE_ADDR="192.0.2.1")
    for password in ("wrong", PASSWORD):
        client.post("/sign-in/", {"username": "olga", "password": password})
    set_password(username="olga", password="nine dry herons", by=owner, at=MONDAY)

    def kinds(query: str) -> list[str]:
        return [row["kind"] for row in rows(owner_api, EVENTS, query)]

    assert kinds("") == ["signed_in", "sign_in_failed", "token_made", "password_changed"]
    assert kinds("kind=signed_in") == ["signed_in"]
    assert kinds("address=192.0.2.1") == ["signed_in", "sign_in_failed"]
    assert kinds("username=olga&at_before=2026-03-03T00:00:00Z") == [
        "token_made",
        "password_changed",
    ]
    assert kinds("username=nobody") == []


def test_neither_holds_a_password_or_a_token(owner_api: APIClient, owner: User) -> None:
    Client().post("/sign-in/", {"username": "olga", "password": "a wrong one"})
    issued = issue_token(username="olga", name="scale", by=owner, at=MONDAY)
    set_password(username="olga", password="nine dry herons", by=owner, at=MONDAY)
    owner.refresh_from_db()
    said = owner_api.get(CHANGES).content.decode() + owner_api.get(EVENTS).content.decode()
    secrets = ["a wrong one", "nine dry herons", owner.password, issued.text, issued.text[:20]]
    assert not any(secret in said for secret in secrets)


@pytest.mark.parametrize("role", [Role.LEAD, Role.BENCH, Role.PACKER, Role.VIEWER])
def test_edits_are_for_leads_and_ways_in_for_owners(
    enter: Enter, client_of: Callable[[User], APIClient], role: Role
) -> None:
    client = client_of(enter(role))
    assert client.get(CHANGES).status_code == (200 if role == Role.LEAD else 403)
    assert client.get(EVENTS).status_code == 403


@pytest.mark.parametrize("address", [CHANGES, EVENTS])
def test_a_list_takes_few_queries_however_long_it_is(
    owner_api: APIClient, history: User, address: str, django_assert_max_num_queries: Any
) -> None:
    owner_api.get(address)
    with django_assert_max_num_queries(4):  # the token, the count, the rows, the people's names
        assert owner_api.get(address).json()["count"] >= 1


def test_ways_in_are_never_changed_or_removed(owner_api: APIClient) -> None:
    with pytest.raises(DatabaseError), transaction.atomic():
        AccessEvent.objects.update(kind="signed_out")
    with pytest.raises(DatabaseError), transaction.atomic():
        AccessEvent.objects.all().delete()


def test_an_address_that_is_none_is_refused_in_words(owner_api: APIClient) -> None:
    assert rows(owner_api, EVENTS, "address=192.0.2.7") == []
    answer = owner_api.get(f"{EVENTS}?address=%2B0.0")
    assert (answer.status_code, answer.json()["code"]) == (422, "invalid_input")
    assert "address" in answer.json()["facts"]["fields"]
