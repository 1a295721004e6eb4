"""A program that is killed at any moment leaves whole postings only, and all that it told of.

The child posts over a connection of its own, to a throw-away SQLite file, or to the test database
where the tests run on PostgreSQL. It is killed (SIGKILL) at fifty moments that a seed chose, or at
as many as SHOP_KILLS says.
"""

from __future__ import annotations

import json
import os
import random
import select
import signal
import sqlite3
import time
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from django.db import connection, connections

from batches.runs.models import Batch, Entry
from batches.runs.operations import record
from batches.runs.steps.drafts import EntryDraft, GoodTally, ScrapTally
from inventory.stock.models import Lot, Posting
from inventory.stock.operations import dispose_of_lot, hold_lot, split_off
from inventory.stock.selectors.proofs import ledger_proofs
from shopfloor.models import RequestKey, User
from shopfloor.operation import RequestToken
from tests.batches.runs import conftest as runs

shop = runs.shop
lead = runs.lead

pytestmark = pytest.mark.django_db(transaction=True)

KILLS = int(os.environ.get("SHOP_KILLS", "50"))
DELAY_SECONDS_MAX = 0.15
WAIT_SECONDS_MAX = 20

Tell = Callable[[object], None]


@pytest.fixture
def gluing(shop: User) -> Batch:
    """A running batch, and more halves and adhesive than it will ever take."""
    runs.stock(shop, "HALF", 10**9, 10**12 + 7)
    runs.stock(shop, "ADH-A", 10**12, 10**12 + 7)
    return runs.running(shop, "BODY")


@pytest.fixture
def database(gluing: Batch, tmp_path: Path) -> Path | None:
    """The throw-away file with all that stands in the test database; None on PostgreSQL."""
    if connection.vendor == "postgresql":
        return None
    file = tmp_path / "killed.sqlite3"
    with sqlite3.connect(file) as copy:
        connection.ensure_connection()
        connection.connection.backup(copy)
    copy.close()
    return file


def in_a_child(database: Path | None, work: Callable[[Tell], None]) -> tuple[int, int]:
    """Start a process that works on the database; its number, and where it tells of its work."""
    connections.close_all()  # or both would talk to the server over one line
    reading, writing = os.pipe()
    number = os.fork()
    if number:
        os.close(writing)
        return number, reading

    def tell(told: object) -> None:
        os.write(writing, json.dumps(told).encode() + b"\n")

    try:
        if database is not None:
            connection.settings_dict["NAME"] = str(database)
        connection.connection = None
        work(tell)
    finally:
        os._exit(0)


def told_by(reading: int) -> Iterator[Any]:
    """What a child told before it ended; half a line at the end was never told."""
    with os.fdopen(reading, "rb") as lines:
        for line in lines:
            if line.endswith(b"\n"):
                yield json.loads(line)


def post_on_and_on(batch: Batch, by: User, life: int) -> Callable[[Tell], None]:
    """Entries of good and scrapped pieces, and what people do to lots in between."""
    draft = EntryDraft(
        batch_code=batch.code,
        good=[GoodTally(7), GoodTally(2, "second")],
        scrap=[ScrapTally(1, "LEAK", "WHEEL-1-2")],
        equipment_codes=["WHEEL-1"],
        factors={"humidity": "45"},
    )

    def work(tell: Tell) -> None:
        stamp = runs.stamp_at(by)
        for number in count():
            token = RequestToken(user_id=by.pk, key=f"{life}-{number}", fingerprint="f")
            row = record.answering(token, lambda row: [row.code, row.made[0].lot])(
                draft=draft, stamp=stamp
            )
            tell([token.key, row.body])
            made = row.body[1]
            if number % 3 == 0:
                split_off(lot_code=made, qty_base=3, stamp=stamp)
                hold_lot(lot_code=made, stamp=stamp)
            elif number % 3 == 1:
                dispose_of_lot(lot_code=made, qty_base=7, stamp=stamp)

    return work


def look(tell: Tell) -> None:
    """Tell what stands."""
    tell(
        {
            "differences": [line for proof in ledger_proofs() for line in proof.differences],
            "answers": {key.key: key.answer for key in RequestKey.objects.all()},
            "unanswered": RequestKey.objects.filter(status=None).count(),
            "entries": [entry.code for entry in Entry.objects.all()],
            "made": list(Posting.objects.filter(kind="made").values_list("pk", flat=True)),
            "lots": list(Lot.objects.values_list("code", flat=True)),
        }
    )


def seen(database: Path | None, standing: set[int]) -> Any:
    """What stands, as another process sees it once the server noticed that its client is gone."""
    _wait_for_the_server(standing)
    number, reading = in_a_child(database, look)
    (told,) = told_by(reading)
    os.waitpid(number, 0)
    return told


def others() -> set[int]:
    """Who else is connected to the database; an earlier test may have left somebody."""
    if connection.vendor != "postgresql":
        return set()
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT pid FROM pg_stat_activity"
            " WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )
        return {pid for (pid,) in cursor.fetchall()}


def _wait_for_the_server(standing: set[int]) -> None:
    for _ in range(WAIT_SECONDS_MAX * 100):
        if others() <= standing:
            return
        time.sleep(0.01)
    raise AssertionError("the server still works for a client that is gone")


def test_kills_lose_nothing_that_was_told_and_leave_nothing_half_done(
    shop: User, gluing: Batch, database: Path | None
) -> None:
    delays = random.Random(20260302)  # noqa: S311 - moments, not secrets
    told: dict[str, list[str]] = {}
    standing = others()
    for life in range(KILLS):
        number, reading = in_a_child(database, post_on_and_on(gluing, shop, life))
        if life % 2:  # else it may be killed before it told of anything
            select.select([reading], [], [], WAIT_SECONDS_MAX)
        time.sleep(delays.uniform(0, DELAY_SECONDS_MAX))
        os.kill(number, signal.SIGKILL)
        os.waitpid(number, 0)
        told |= dict(told_by(reading))
    after = seen(database, standing)
    assert len(told) >= KILLS // 2
    assert after["differences"] == []
    assert after["unanswered"] == 0
    assert {key: after["answers"].get(key) for key in told} == told
    assert sorted(code for code, _ in after["answers"].values()) == sorted(after["entries"])
    assert len(after["made"]) == len(after["entries"])
    assert {lot for _, lot in after["answers"].values()} <= set(after["lots"])
