"""Tokens of programs: what one looks like, when it ends, whose it is."""

from __future__ import annotations

import re
import zlib
from collections.abc import Callable
from datetime import date, timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import OperationalError, connection
from rest_framework.test import APIClient

from shopfloor.days import shop_day
from shopfloor.errors import InvalidInputError, PersonShutOutError
from shopfloor.models import AccessEvent, User
from shopfloor.operations import blank_name, issue_token, let_sign_in
from shopfloor.roles import Role
from shopfloor.tokens import ALPHABET
from tests.shopfloor.conftest import MONDAY, Clock

ClientOf = Callable[[User], APIClient]
MINE, ALL = "/api/v1/me/tokens/", "/api/v1/tokens/"
KEY = {"Idempotency-Key": "k"}
MONDAY_ON = date(2026, 3, 2)
DAY = timedelta(days=1)


def program(text: str) -> APIClient:
    return APIClient(headers={"Authorization": f"Token {text}"})


def is_in(client: APIClient) -> bool:
    return client.get("/api/v1/me/").status_code == 200


def test_a_token_can_be_told_from_any_other_text(owner: User) -> None:
    text = issue_token(username="olga", name="scale", by=owner, at=MONDAY).text
    assert re.fullmatch(r"lureshop_[0-9A-Za-z]{49}", text)
    secret, check = text[9:-6], text[-6:]
    number = 0
    for digit in check:
        number = number * 62 + ALPHABET.index(digit)
    assert number == zlib.crc32(secret.encode())


def test_a_token_works_through_its_last_day_of_the_shop(owner: User, clock: Clock) -> None:
    issued = issue_token(username="olga", name="scale", by=owner, at=MONDAY, ends_on=MONDAY_ON)
    clock.at = MONDAY.replace(day=3, hour=5, minute=59)  # 23:59 in the shop
    assert is_in(program(issued.text))
    clock.shift(timedelta(minutes=1))
    assert not is_in(program(issued.text))


def test_a_token_that_would_have_ended_is_refused(owner: User) -> None:
    with pytest.raises(InvalidInputError):
        issue_token(username="olga", name="x", by=owner, at=MONDAY, ends_on=MONDAY_ON - DAY)


def test_nobody_is_given_a_token_who_may_not_sign_in(
    owner: User, enter: Callable[..., User]
) -> None:
    enter(Role.BENCH)
    let_sign_in(username="bench", is_active=False, by=owner, at=MONDAY)
    with pytest.raises(PersonShutOutError):
        issue_token(username="bench", name="x", by=owner, at=MONDAY)


def test_its_use_is_marked_once_a_day(
    owner: User, clock: Clock, django_assert_num_queries: Any
) -> None:
    issued = issue_token(username="olga", name="scale", by=owner, at=MONDAY)
    client = program(issued.text)
    assert client.get(ALL).json()["results"][0]["last_used_on"] == "2026-03-02"
    with django_assert_num_queries(1):
        is_in(client)
    clock.shift(DAY)
    with django_assert_num_queries(2):
        is_in(client)
    assert client.get(ALL).json()["results"][0]["last_used_on"] == "2026-03-03"


def test_a_busy_database_refuses_no_program(owner: User) -> None:
    issued = issue_token(username="olga", name="scale", by=owner, at=MONDAY)

    def busy(execute: Any, sql: str, *more: Any) -> Any:
        if sql.startswith("UPDATE"):
            raise OperationalError("database is locked")
        return execute(sql, *more)

    with connection.execute_wrapper(busy):
        assert is_in(program(issued.text))


def test_everybody_makes_lists_and_revokes_tokens_of_their_own(
    enter: Callable[..., User], client_of: ClientOf, clock: Clock
) -> None:
    viewer = client_of(enter(Role.VIEWER))
    made = viewer.post(MINE, {"name": "a screen"}, headers=KEY).json()
    assert (made["username"], made["made_by"]) == ("viewer", "viewer")
    assert made["ends_on"] == "2027-03-02"
    assert is_in(program(made["token"]))
    assert made["token"] not in viewer.get(MINE).content.decode()
    assert [row["name"] for row in viewer.get(MINE).json()["results"]] == ["a test", "a screen"]
    revoked = viewer.post(f"{MINE}{made['id']}/revoke/", headers={"Idempotency-Key": "r"})
    assert (revoked.status_code, revoked.json()["revoked_at"]) == (200, "2026-03-02T15:00:00Z")
    assert not is_in(program(made["token"]))


def test_a_token_of_somebody_else_is_not_there_for_one(
    owner_api: APIClient, enter: Callable[..., User], client_of: ClientOf
) -> None:
    theirs = owner_api.get(MINE).json()["results"][0]["id"]
    viewer = client_of(enter(Role.VIEWER))
    assert viewer.post(f"{MINE}{theirs}/revoke/", headers=KEY).status_code == 404
    assert [row["username"] for row in viewer.get(MINE).json()["results"]] == ["viewer"]
    assert is_in(owner_api)


@pytest.mark.parametrize("ends_on", ["2026-03-01", "tomorrow", "20270101", None])
def test_an_end_that_cannot_be_meant_is_refused(
    owner_api: APIClient, clock: Clock, ends_on: str | None
) -> None:
    answer = owner_api.post(MINE, {"name": "x", "ends_on": ends_on}, headers=KEY)
    assert (answer.status_code, answer.json()["code"]) == (422, "invalid_input")


def test_what_becomes_of_a_token_is_kept(owner: User, enter: Callable[..., User]) -> None:
    enter(Role.BENCH)
    issued = issue_token(username="bench", name="scale", by=owner, at=MONDAY)
    blank_name(username="bench", by=owner, at=MONDAY)
    kept = AccessEvent.objects.filter(token=issued.row.id).order_by("pk")
    assert [(event.kind, event.by) for event in kept] == [
        ("token_made", owner),
        ("token_revoked", owner),
    ]


def test_the_command_makes_one_that_ends(owner: User) -> None:
    out = StringIO()
    call_command("token", "olga", days=30, stdout=out)
    row = program(out.getvalue().strip()).get(MINE).json()["results"][0]
    assert date.fromisoformat(row["ends_on"]) - date.fromisoformat(row["last_used_on"]) == 30 * DAY


@pytest.mark.parametrize("days", [0, -1, 3651, 10**9])
def test_the_command_refuses_an_end_that_cannot_be(owner: User, days: int) -> None:
    with pytest.raises(CommandError, match="1 to 3650"):
        call_command("token", "olga", days=days)


def test_the_days_of_these_tests_are_the_shops() -> None:
    assert shop_day(MONDAY) == MONDAY_ON
