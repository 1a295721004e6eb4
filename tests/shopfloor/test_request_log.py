"""The line of a request, its number, and what neither ever says."""

from __future__ import annotations

import json
import logging
import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from rest_framework.test import APIClient

from shopfloor.models import User
from shopfloor.request_log import JsonFormatter, NumberFilter, PlainFormatter
from shopfloor.roles import Role
from tests.shopfloor.conftest import PASSWORD

LOG = "shopfloor.request_log"
ClientOf = Callable[[User], APIClient]


@pytest.fixture
def lines(caplog: pytest.LogCaptureFixture) -> Callable[[], list[logging.LogRecord]]:
    """The lines of requests so far."""
    caplog.set_level(logging.INFO)
    return lambda: [record for record in caplog.records if record.name == LOG]


def facts(record: logging.LogRecord) -> tuple[Any, ...]:
    return tuple(vars(record)[name] for name in ("user", "method", "path", "status"))


def test_a_request_has_one_line_with_who_what_and_how_it_ended(
    owner: User, owner_api: APIClient, lines: Callable[[], list[logging.LogRecord]]
) -> None:
    owner_api.get("/api/v1/me/")
    assert [facts(line) for line in lines()] == [(owner.pk, "GET", "/api/v1/me/", 200)]
    assert re.fullmatch(
        rf"user={owner.pk} method=GET path=/api/v1/me/ status=200 ms=\d+", lines()[0].getMessage()
    )


def test_who_signed_in_at_a_page_is_named_by_number(
    owner: User, lines: Callable[[], list[logging.LogRecord]]
) -> None:
    client = Client()
    client.post("/sign-in/", {"username": "olga", "password": PASSWORD})
    client.get("/me/")
    client.get("/nowhere/")
    assert facts(lines()[1]) == (owner.pk, "GET", "/me/", 200)
    assert [vars(line)["status"] for line in lines()] == [302, 200, 404]


def test_the_log_holds_no_name_no_secret_no_query_and_no_body(
    enter: Callable[..., User], owner_api: APIClient, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG, logger="shopfloor")
    caplog.set_level(logging.INFO)
    enter(Role.BENCH, username="wilhelmina")
    client = Client()
    key = {"Idempotency-Key": "k"}
    owner_api.get("/api/v1/people/", {"search": "wilhelmina"})
    owner_api.post("/api/v1/people/wilhelmina/role/", {"role": "lead"}, headers=key)
    owner_api.post("/api/v1/people/wilhelmina/role/", {"role": "king"}, headers=key)
    client.post("/sign-in/", {"username": "wilhelmina", "password": "not-it-at-all"})
    client.post("/sign-in/", {"username": "wilhelmina", "password": PASSWORD})
    client.get("/wilhelmina?token=secret-token")
    APIClient(headers={"Authorization": "Token secret-token"}).get("/api/v1/me/")
    said = " ".join(record.getMessage() for record in caplog.records)
    assert "/people/{username}/role/" in said
    assert not any(
        word in said for word in ("search=", "not-it-at-all", PASSWORD, "secret-token", "king")
    )
    assert said.count("wilhelmina") == 1  # an address that is none of ours stands as it was asked


def test_an_answer_and_its_problem_carry_the_number_of_the_line(
    owner_api: APIClient, lines: Callable[[], list[logging.LogRecord]]
) -> None:
    first, second = owner_api.get("/api/v1/nowhere/"), owner_api.get("/api/v1/nowhere/")
    assert first.json()["request_id"] == first["X-Request-ID"]
    assert re.fullmatch("[0-9a-f]{12}", first["X-Request-ID"])
    assert first["X-Request-ID"] != second["X-Request-ID"]


@pytest.mark.parametrize(
    ("is_production", "peer", "said", "is_taken"),
    [
        (True, "127.0.0.1", "proxy-number-1", True),
        (True, "192.0.2.7", "proxy-number-1", False),
        (False, "127.0.0.1", "proxy-number-1", False),
        (True, "127.0.0.1", "short", False),
        (True, "127.0.0.1", "x" * 65, False),
        (True, "127.0.0.1", "two\nlines-of-it", False),
    ],
)
def test_the_number_is_the_proxys_only_where_there_is_one(
    db: None, settings: Any, *, is_production: bool, peer: str, said: str, is_taken: bool
) -> None:
    settings.SHOP_PRODUCTION = is_production
    answer = Client(REMOTE_ADDR=peer).get("/health/", headers={"X-Request-ID": said})
    assert (answer["X-Request-ID"] == said) is is_taken


def line(**more: Any) -> logging.LogRecord:
    record = logging.makeLogRecord({"name": LOG, "levelname": "INFO", "msg": "a\nb", **more})
    assert NumberFilter().filter(record)
    return record


def test_a_line_for_programs_is_one_json_object() -> None:
    more = {"user": 7, "method": "GET", "path": "/me/", "status": 200, "ms": 3, "created": 0}
    assert json.loads(JsonFormatter().format(line(**more))) == {
        "at": "1970-01-01T00:00:00.000+00:00",
        "level": "INFO",
        "logger": LOG,
        "message": "a\nb",
        "request_id": "-",
        "user": 7,
        "method": "GET",
        "path": "/me/",
        "status": 200,
        "ms": 3,
    }


def test_what_a_visitor_sent_begins_no_line_of_its_own(
    db: None, lines: Callable[[], list[logging.LogRecord]]
) -> None:
    Client().get("/a%0Ab%1b")
    assert vars(lines()[0])["path"] == "/a%0Ab%1B"
    assert "\n" not in JsonFormatter().format(line(name="other"))
    assert PlainFormatter("{message}", style="{").format(line()) == "a\\nb"
