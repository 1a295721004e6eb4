"""While somebody else writes, an import waits or is told to come again; so do others meanwhile."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from typing import Any

import psycopg
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from rest_framework.test import APIClient

from batches.exchange.models import Import
from batches.exchange.operations.importing import import_reading
from batches.exchange.selectors.checking import read_sheets
from batches.runs.models import Batch
from inventory.catalog.models import Item
from inventory.catalog.operations import create_place
from shopfloor.models import RequestKey, User
from tests.batches.exchange.small import CLOCK, SMALL, bytes_of
from tests.needs import need_threads
from tests.racing import codes, inside, one_behind_the_other

pytestmark = pytest.mark.django_db(transaction=True)


def run(statement: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement)


@contextmanager
def another_writer() -> Iterator[None]:
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
    with psycopg.connect(host=kept["HOST"], port=kept["PORT"], **where) as line:
        line.execute("LOCK TABLE inventory_item IN SHARE MODE")
        yield
    run("RESET lock_timeout")


def send(owner: User) -> Any:
    api = APIClient()
    api.force_authenticate(owner)
    files = [SimpleUploadedFile(name, data) for name, data in bytes_of(SMALL).items()]
    headers = {"Idempotency-Key": "one"}
    return api.post("/api/v1/imports/", {"files": files}, format="multipart", headers=headers)


def test_an_import_that_waits_too_long_is_told_to_come_again_and_does(owner: User) -> None:
    with another_writer():
        answer = send(owner)
        assert (answer.status_code, answer.json()["code"]) == (503, "database_busy")
        assert int(answer.headers["Retry-After"]) > 0
    assert (Item.objects.count(), Import.objects.count(), RequestKey.objects.count()) == (0, 0, 0)
    assert send(owner).status_code == 201
    assert Batch.objects.count() == 4


@pytest.mark.only_on("sqlite")
def test_who_writes_while_an_import_is_posted_waits_for_its_end(owner: User) -> None:
    need_threads()
    reading = read_sheets(bytes_of(SMALL), CLOCK)
    answers = one_behind_the_other(
        lambda: inside(import_reading)(reading=reading, by=owner, now=CLOCK.now),
        lambda: create_place(
            code="ATTIC", fields={"name": "Attic", "kind": "shelf"}, by=owner, at=CLOCK.now
        ),
    )
    assert codes(answers) == ["done", "done"]


def test_of_two_who_import_the_same_at_once_one_is_told(owner: User) -> None:
    need_threads()
    readings = [read_sheets(bytes_of(SMALL), CLOCK) for _ in range(2)]
    answers = one_behind_the_other(
        lambda: inside(import_reading)(reading=readings[0], by=owner, now=CLOCK.now),
        lambda: import_reading(reading=readings[1], by=owner, now=CLOCK.now),
    )
    assert codes(answers) == ["done", "import_refused"]
    assert (Import.objects.count(), Batch.objects.count()) == (1, 4)
