"""When a sign-in ends."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.contrib.sessions.models import Session
from django.core.cache import cache
from django.db import OperationalError, connection
from django.test import Client
from rest_framework.test import APIClient

from shopfloor.models import AccessEvent, User
from shopfloor.operations import end_sessions, let_sign_in, set_password
from shopfloor.roles import Role
from tests.shopfloor.conftest import MONDAY, PASSWORD, Clock
from tests.shopfloor.test_settings import PRODUCTION, read

KEY = {"Idempotency-Key": "k"}
NEW = "nine dry herons"
HOUR = timedelta(hours=1)


@pytest.fixture(autouse=True)
def nothing_tried_yet() -> None:
    """Tries are counted in the memory of the process."""
    cache.clear()


def signed_in(username: str = "olga", password: str = PASSWORD) -> APIClient:
    client = APIClient()
    body = {"username": username, "password": password}
    assert client.post("/sign-in/", body, format="multipart").status_code == 302
    return client


def is_in(client: APIClient | Client) -> bool:
    return client.get("/api/v1/me/").status_code == 200


def test_a_sign_in_ends_after_twelve_hours_of_work(owner: User, clock: Clock) -> None:
    client = signed_in()
    for _ in range(12):
        clock.shift(HOUR)
        assert is_in(client)
    clock.shift(timedelta(seconds=1))
    assert not is_in(client)


def test_a_sign_in_ends_when_it_lay_idle(owner: User, clock: Clock, settings: Any) -> None:
    client = signed_in()
    assert is_in(client)
    clock.shift(settings.SESSION_IDLE)
    assert is_in(client)
    clock.shift(settings.SESSION_IDLE + timedelta(seconds=1))
    assert not is_in(client)
    assert Session.objects.count() == 0


def test_an_idle_person_on_a_page_is_sent_to_sign_in(
    owner: User, clock: Clock, settings: Any
) -> None:
    client = signed_in()
    client.get("/me/")
    clock.shift(settings.SESSION_IDLE * 2)
    assert client.get("/me/").headers["Location"] == "/sign-in/?next=/me/"


def test_a_request_soon_after_another_writes_nothing(
    owner: User, clock: Clock, django_assert_num_queries: Any
) -> None:
    client = signed_in()
    is_in(client)
    clock.shift(timedelta(minutes=1))
    with django_assert_num_queries(2):  # the session and its person
        is_in(client)


def test_a_busy_database_refuses_no_reader(owner: User, clock: Clock, settings: Any) -> None:
    client = signed_in()
    is_in(client)
    clock.shift(settings.SESSION_IDLE / 2)

    def busy(execute: Any, sql: str, *more: Any) -> Any:
        if sql.startswith("UPDATE"):
            raise OperationalError("database is locked")
        return execute(sql, *more)

    with connection.execute_wrapper(busy):
        assert is_in(client)


def test_of_ones_own_sessions_the_one_that_changes_the_password_goes_on(owner: User) -> None:
    here, elsewhere = signed_in(), signed_in()
    body = {"present": PASSWORD, "password": NEW}
    assert here.post("/api/v1/me/password/", body, headers=KEY).status_code == 200
    assert (is_in(here), is_in(elsewhere)) == (True, False)


def test_a_program_that_changes_the_password_ends_every_session(
    owner: User, owner_api: APIClient
) -> None:
    elsewhere = signed_in()
    body = {"present": PASSWORD, "password": NEW}
    assert owner_api.post("/api/v1/me/password/", body, headers=KEY).status_code == 200
    assert (is_in(owner_api), is_in(elsewhere)) == (True, False)


@pytest.mark.parametrize(("end_tokens", "is_token_alive"), [(False, True), (True, False)])
def test_a_password_set_by_an_owner_ends_sessions_and_if_wanted_tokens(
    owner_api: APIClient,
    enter: Callable[..., User],
    client_of: Callable[[User], APIClient],
    *,
    end_tokens: bool,
    is_token_alive: bool,
) -> None:
    program, person = client_of(enter(Role.BENCH)), signed_in("bench")
    body = {"password": NEW, "end_tokens": end_tokens}
    answer = owner_api.post("/api/v1/people/bench/password/", body, headers=KEY)
    assert answer.status_code == 200
    assert (is_in(person), is_in(program)) == (False, is_token_alive)
    assert is_in(signed_in("bench", NEW))


def test_who_is_let_in_again_comes_back_to_no_old_session_and_no_old_token(
    owner: User, enter: Callable[..., User], client_of: Callable[[User], APIClient]
) -> None:
    program, person = client_of(enter(Role.BENCH)), signed_in("bench")
    let_sign_in(username="bench", is_active=False, by=owner, at=MONDAY)
    let_sign_in(username="bench", is_active=True, by=owner, at=MONDAY)
    assert (is_in(person), is_in(program)) == (False, False)
    assert is_in(signed_in("bench"))


def test_letting_in_who_is_in_ends_nothing(
    owner: User, enter: Callable[..., User], client_of: Callable[[User], APIClient]
) -> None:
    program, person = client_of(enter(Role.BENCH)), signed_in("bench")
    let_sign_in(username="bench", is_active=True, by=owner, at=MONDAY)
    assert (is_in(person), is_in(program)) == (True, True)


@pytest.mark.parametrize("address", ["me", "people/olga"])
def test_signing_out_everywhere_ends_sessions_and_not_tokens(
    owner: User, owner_api: APIClient, address: str
) -> None:
    one, other = signed_in(), signed_in()
    answer = owner_api.post(f"/api/v1/{address}/sign-out-everywhere/", headers=KEY)
    assert answer.status_code == 200
    assert (is_in(one), is_in(other), is_in(owner_api)) == (False, False, True)
    assert AccessEvent.objects.filter(kind="sessions_ended", person=owner).count() == 1


def test_of_two_people_one_is_signed_out(owner: User, enter: Callable[..., User]) -> None:
    enter(Role.BENCH)
    theirs, mine = signed_in("bench"), signed_in()
    end_sessions(username="bench", by=owner, at=MONDAY)
    assert (is_in(theirs), is_in(mine)) == (False, True)


def test_a_person_changes_password_and_signs_out_everywhere_on_the_page(owner: User) -> None:
    client, elsewhere = signed_in(), signed_in()
    body = {"present": PASSWORD, "password": NEW}
    changed = client.post("/me/password/", body, format="multipart", follow=True)
    assert "Your password is changed" in changed.content.decode()
    assert (is_in(client), is_in(elsewhere)) == (True, False)
    assert client.post("/me/sign-out-everywhere/").headers["Location"] == "/sign-in/"
    assert not is_in(client)


@pytest.mark.parametrize(
    ("body", "field", "words"),
    [
        ({"present": "wrong", "password": NEW}, "present", "not your present"),
        ({"present": PASSWORD, "password": "short"}, "password", "12"),
        ({"present": PASSWORD}, "password", "missing"),
    ],
)
def test_the_page_says_why_a_password_stays(
    owner: User, body: dict[str, str], field: str, words: str
) -> None:
    client = signed_in()
    answer = client.post("/me/password/", body, format="multipart")
    assert answer.status_code == 422
    said = re.search(rf'id="{field}-wrong">(.*?)</div>', answer.content.decode())
    assert said is not None
    assert words in said[1]
    assert is_in(signed_in())


@pytest.mark.parametrize(
    ("address", "format_"), [("/api/v1/me/password/", "json"), ("/me/password/", "multipart")]
)
def test_guessing_at_the_present_password_is_stopped(
    enter: Callable[..., User], address: str, format_: str
) -> None:
    enter(Role.VIEWER)
    client = signed_in("viewer")
    body = {"present": "wrong", "password": NEW}
    tries = [
        client.post(address, body, format=format_, headers={"Idempotency-Key": str(n)}).status_code
        for n in range(21)
    ]
    assert tries == [422] * 20 + [429]


def test_sessions_that_ended_by_themselves_are_swept_out_at_a_sign_in(
    owner: User, clock: Clock
) -> None:
    signed_in()
    clock.shift(timedelta(days=2))
    signed_in()
    assert Session.objects.count() == 1


def test_a_password_changed_by_the_command_ends_sessions(owner: User) -> None:
    client = signed_in()
    set_password(username="olga", password=NEW, by=owner, at=MONDAY)
    assert not is_in(client)


def test_in_production_the_cookies_are_of_this_host_and_https_alone(tmp_path: Path) -> None:
    settings = read(tmp_path, **PRODUCTION)
    assert settings["SESSION_COOKIE_NAME"] == "__Host-session"
    assert settings["CSRF_COOKIE_NAME"] == "__Host-csrf"
    assert settings["SESSION_COOKIE_SECURE"] == settings["CSRF_COOKIE_SECURE"] == "True"


def test_a_session_cookie_is_out_of_reach_of_scripts_and_other_sites(owner: User) -> None:
    cookie = signed_in().cookies["sessionid"]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"]) == (True, "Lax", "/")
