"""Who may do what: docs/roles.md says it, and every address is tried by everybody."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any, NamedTuple

import pytest
from django.test import Client
from rest_framework.test import APIClient

from shopfloor.access import every_address, role_page
from shopfloor.bootstrap import ROOT
from shopfloor.models import User
from shopfloor.operations import create_first_owner, create_person, issue_token
from shopfloor.roles import Role
from shopfloor.selectors import person_named

pytestmark = pytest.mark.only_on("sqlite")  # no database has a part in it: once is enough

AT = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)
PASSWORD = "seven wet otters"
METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")
ALL_METHODS = {"get", "post", "put", "patch", "delete"}
# What would end the very sign-in that tries the rest.
LEAVES = {"/sign-out/", "/me/sign-out-everywhere/", "/api/v1/me/sign-out-everywhere/"}


class Row(NamedTuple):
    """A row of the page: an address, a method, and who may."""

    address: str
    method: str
    roles: frozenset[str]
    is_open: bool

    @property
    def url(self) -> str:
        """An address that leads to the door; what it names is not there."""
        return re.sub(r"\{\w+\}", "999999", self.address)


def page_rows() -> Iterator[Row]:
    """The page as a reader would take it."""
    for line in (ROOT / "docs" / "roles.md").read_text(encoding="utf-8").splitlines():
        if line.startswith("| `"):
            address, method, *marks, nobody = line.strip("| ").split(" | ")
            may = frozenset(role for role, mark in zip(Role, marks, strict=True) if mark != "-")
            yield Row(address.strip("`"), method, may, nobody == "open")


ROWS = list(page_rows())
DECLARED = {(row.address, row.method): row for row in ROWS}
API = sorted({row.address for row in ROWS if row.address.startswith("/api/v1/")})
PAGES = sorted({row.address for row in ROWS if not row.address.startswith("/api/v1/")})


@pytest.fixture
def people(db: None) -> dict[str, User]:
    """One person of each role."""
    create_first_owner(username="owner", display_name="O", password=PASSWORD, at=AT)
    owner = person_named("owner")
    for role in list(Role)[1:]:
        create_person(
            username=role, display_name="P", role=role, password=PASSWORD, by=owner, at=AT
        )
    return {role.value: person_named(role) for role in Role}


def by_token(person: User) -> APIClient:
    token = issue_token(username=person.username, name="a test", by=person, at=AT).text
    return APIClient(headers={"Authorization": f"Token {token}"}, raise_request_exception=False)


def by_session(person: User) -> Client:
    client = Client(enforce_csrf_checks=True, raise_request_exception=False)
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


def told(client: Client | APIClient, row: Row, **more: Any) -> int:
    """The status of the answer to an empty request."""
    headers = {"Idempotency-Key": f"{row.method} {row.address}", **more}
    kind = "application/json"
    return client.generic(row.method, row.url, "{}", kind, headers=headers).status_code


def asked(addresses: list[str]) -> Iterator[Row]:
    """Every method of every address, declared or not."""
    for address in addresses:
        for method in METHODS:
            known = DECLARED.get((address, "GET" if method == "HEAD" else method))
            roles, is_open = (known.roles, known.is_open) if known else (frozenset(), False)
            yield Row(address, method, roles, is_open)


def has_method(row: Row) -> bool:
    return (row.address, "GET" if row.method == "HEAD" else row.method) in DECLARED


def expected(row: Row, role: str | None, *, elsewhere: int) -> str:
    """What a person of a role, or nobody, should be told at a door."""
    if role is None and not row.is_open:
        return str(elsewhere)
    if not has_method(row):
        return "405"
    return "let in" if row.is_open or role in row.roles else "403"


def as_words(status: int) -> str:
    return str(status) if status in {401, 403, 405, 500} else "let in"


def test_the_page_says_what_the_doors_say() -> None:
    """Else: `manage.py roles > docs/roles.md`."""
    assert (ROOT / "docs" / "roles.md").read_text(encoding="utf-8") == role_page()


def test_every_method_that_a_door_has_is_declared_and_no_other() -> None:
    doors = dict(every_address())
    have = {
        (address, method.upper())
        for address, view in doors.items()
        for method in ALL_METHODS & set(view.http_method_names)
        if hasattr(view, method) and method not in _of_the_frame(view)
    }
    assert len(doors) > 100
    assert have == set(DECLARED)


def _of_the_frame(view: Any) -> set[str]:
    """Methods that a class of the framework brings along: a form's PUT is its POST."""
    return {"put"} if hasattr(view, "form_class") else set()


@pytest.mark.parametrize("role", list(Role))
def test_a_program_is_let_in_where_the_page_says_and_nowhere_else(
    people: dict[str, User], role: Role
) -> None:
    rows = [row for row in asked(API) if row.address not in LEAVES]
    client = by_token(people[role])
    wrong = [
        (row.method, row.address, status)
        for row in rows
        if as_words(status := told(client, row)) != expected(row, role, elsewhere=401)
    ]
    assert wrong == []


def test_nobody_is_let_in_but_where_it_is_open(db: None) -> None:
    client = APIClient(raise_request_exception=False)
    wrong = [
        (row.method, row.address, status)
        for row in asked(API)
        if as_words(status := told(client, row)) != expected(row, None, elsewhere=401)
    ]
    assert wrong == []


@pytest.mark.parametrize("role", list(Role))
def test_a_person_is_let_in_to_pages_where_the_page_says(
    people: dict[str, User], role: Role
) -> None:
    client = by_session(people[role])
    client.handler.enforce_csrf_checks = False  # what comes from elsewhere is tried below
    rows = [row for row in asked(PAGES) if row.address not in LEAVES]
    wrong = [
        (row.method, row.address, status)
        for row in rows
        if row.method in {"GET", "HEAD", "POST"}
        and as_words(status := told(client, row)) != expected(row, role, elsewhere=302)
    ]
    assert wrong == []


def test_nobody_is_sent_to_sign_in_from_every_page(db: None) -> None:
    rows = [row for row in asked(PAGES) if row.method == "GET" and not row.is_open]
    answers = [Client().get(row.url) for row in rows if has_method(row)]
    assert len(answers) >= 4
    assert {(answer.status_code, answer.headers["Location"][:9]) for answer in answers} == {
        (302, "/sign-in/")
    }


@pytest.mark.parametrize("role", list(Role))
def test_a_form_from_elsewhere_is_refused_at_every_door(
    people: dict[str, User], role: Role
) -> None:
    client = by_session(people[role])
    writes = [row for row in ROWS if row.method not in {"GET", "HEAD"}]
    assert len(writes) > 50
    answers = {row.address: told(client, row) for row in writes}
    # A door of files may not even read what is no file; a file from elsewhere it refuses too.
    assert answers.pop("/api/v1/imports/") in {403, 415}
    assert {address for address, status in answers.items() if status != 403} == set()
    assert client.post("/api/v1/imports/", {"check": "true"}).status_code == 403


def test_a_form_of_ours_passes_the_check(people: dict[str, User]) -> None:
    client = by_session(people["owner"])
    client.get("/me/")
    token = client.cookies["csrftoken"].value
    row = DECLARED["/api/v1/people/", "POST"]
    assert told(client, row, **{"X-CSRFToken": token}) == 422
    assert told(client, row, **{"X-CSRFToken": "x" * 32}) == 403
