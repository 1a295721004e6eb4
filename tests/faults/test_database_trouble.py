"""A database that cannot serve now: program and person are told so, and nothing is half written."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest
from django.db import connection
from django.test import Client
from rest_framework.test import APIClient

from batches.exchange.selectors.proofs import floor_proofs
from inventory.stock.models import Lot, Posting
from inventory.stock.selectors.proofs import ledger_proofs
from shopfloor.models import RequestKey, User
from shopfloor.operations import issue_token
from tests.batches.runs import conftest as runs
from tests.needs import need_threads

shop = runs.shop
lead = runs.lead

pytestmark = pytest.mark.django_db(transaction=True)

Ask = Callable[[str], Any]
DIFFERENT_PAGES = 200  # more than fit into what is free on the last page of every table


@pytest.fixture
def resin(shop: User) -> Lot:
    return runs.stock(shop, "RESIN", 10**9, 10**9)


@pytest.fixture
def dispose(resin: Lot, shop: User) -> Ask:
    """Asks to throw a gram away, under a key."""
    token = issue_token(username=shop.username, name="a test", by=shop, at=runs.NOON).text
    client = APIClient(headers={"Authorization": f"Token {token}"})
    body = {"amount": "1", "unit": "g", "reason": "x" * 300}

    def ask(key: str) -> Any:
        headers = {"Idempotency-Key": key}
        return client.post(f"/api/v1/lots/{resin.code}/dispose/", body, headers=headers)

    return ask


def run(statement: str) -> Any:
    with connection.cursor() as cursor:
        cursor.execute(statement)
        return cursor.fetchone() if cursor.description else None


def sign_in_page() -> tuple[int, str]:
    answer = Client().post("/sign-in/", {"username": "lead", "password": "some password"})
    return answer.status_code, answer.content.decode()


def all_holds() -> bool:
    return not [line for p in (*ledger_proofs(), *floor_proofs()) for line in p.differences]


def assert_refused_whole(answer: Any, *, status: int, code: str, resin: Lot, disposed: int) -> None:
    """A problem of that code, and of what was asked nothing stands."""
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert answer["Content-Type"] == "application/problem+json"
    resin.refresh_from_db()
    assert resin.on_hand_base == 10**9 - 1000 * disposed
    assert Posting.objects.filter(kind="disposed").count() == disposed
    assert RequestKey.objects.count() == disposed
    assert all_holds()


@contextmanager
def full_disk() -> Iterator[None]:
    """SQLite may not make its file any larger, and no earlier test left room in it."""
    run("VACUUM")
    (pages,) = run("PRAGMA page_count")
    run(f"PRAGMA max_page_count = {pages}")
    try:
        yield
    finally:
        run("PRAGMA max_page_count = 1073741823")


@contextmanager
def read_only() -> Iterator[None]:
    switches = {
        "sqlite": "PRAGMA query_only = {}",
        "postgresql": "SET default_transaction_read_only = {}",
    }
    switch = switches[connection.vendor]
    run(switch.format("on"))
    try:
        yield
    finally:
        run(switch.format("off"))


@contextmanager
def another_writer(lot: Lot) -> Iterator[None]:
    """Another program holds the lock, and we are less patient than usual."""
    kept = connection.settings_dict
    if connection.vendor == "sqlite":
        need_threads()
        run("PRAGMA busy_timeout = 50")
        with closing(sqlite3.connect(kept["NAME"])) as other:
            other.execute("BEGIN IMMEDIATE")
            yield
        run("PRAGMA busy_timeout = 20000")
        return
    run("SET lock_timeout = 50")
    where = {"user": kept["USER"], "password": kept["PASSWORD"], "dbname": kept["NAME"]}
    with psycopg.connect(host=kept["HOST"], port=kept["PORT"], **where) as other_line:
        other_line.execute("SELECT 1 FROM inventory_lot WHERE id = %s FOR UPDATE", [lot.pk])
        yield
    run("SET lock_timeout = 20000")


@pytest.mark.only_on("sqlite")
def test_a_full_disk_is_507_and_room_lets_the_same_request_through(
    dispose: Ask, resin: Lot
) -> None:
    with full_disk():
        answers = [dispose(f"k{number}") for number in range(DIFFERENT_PAGES)]
        done = [answer for answer in answers if answer.status_code == 201]
        last = answers[-1]
        assert_refused_whole(last, status=507, code="disk_full", resin=resin, disposed=len(done))
        assert "make room" in last.json()["detail"]
        assert "Retry-After" not in last
    assert dispose(f"k{DIFFERENT_PAGES - 1}").status_code == 201
    assert all_holds()


def test_a_database_that_may_only_be_read_is_503_and_says_who_can_help(
    dispose: Ask, resin: Lot
) -> None:
    with read_only():
        refused = dispose("k")
        status, page = sign_in_page()
    assert_refused_whole(refused, status=503, code="database_read_only", resin=resin, disposed=0)
    assert "Retry-After" not in refused
    assert status == 503
    assert "<h2>Database read only</h2>" in page
    assert dispose("k").status_code == 201


def test_who_waits_too_long_for_another_writer_is_told_to_try_again(
    dispose: Ask, resin: Lot
) -> None:
    with another_writer(resin):
        refused = dispose("k")
        assert Client().get("/sign-in/").status_code == 200
        assert_refused_whole(refused, status=503, code="database_busy", resin=resin, disposed=0)
        assert refused["Retry-After"] == "5"
    assert dispose("k").status_code == 201


@pytest.mark.only_on("sqlite")
def test_a_person_who_waits_too_long_gets_a_page(resin: Lot) -> None:
    with another_writer(resin):
        status, page = sign_in_page()
    assert status == 503
    assert "<h2>Database busy</h2>" in page


@pytest.mark.only_on("sqlite")
def test_who_only_reads_does_not_wait_for_another_writer(shop: User) -> None:
    need_threads()
    token = issue_token(username=shop.username, name="a test", by=shop, at=runs.NOON).text
    browser = Client()
    browser.force_login(shop, backend="django.contrib.auth.backends.ModelBackend")
    start = time.monotonic()
    with closing(sqlite3.connect(connection.settings_dict["NAME"])) as other:
        other.execute("BEGIN IMMEDIATE")
        # Both would note when they were last seen.
        program = APIClient(headers={"Authorization": f"Token {token}"}).get("/api/v1/lots/")
        page = browser.get("/")
    assert (program.status_code, page.status_code) == (200, 200)
    assert time.monotonic() - start < 20
    assert run("PRAGMA busy_timeout") == (20000,)


@pytest.mark.only_on("sqlite")
def test_a_damaged_file_is_told_apart_from_a_fault_of_ours(tmp_path: Path) -> None:
    garbage = tmp_path / "garbage.sqlite3"
    garbage.write_bytes(b"not a database at all" * 1000)
    name = connection.settings_dict["NAME"]
    whole, connection.connection = connection.connection, None
    connection.settings_dict["NAME"] = str(garbage)
    try:
        api = APIClient(headers={"Authorization": "Token x"}).get("/api/v1/me/")
        page = Client().post("/sign-in/", {"username": "lead", "password": "some password"})
    finally:
        connection.connection, connection.settings_dict["NAME"] = whole, name
    assert (api.status_code, api.json()["code"]) == (500, "database_damaged")
    assert "newest good backup" in page.content.decode()
