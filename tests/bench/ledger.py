"""A ledger of five million movements: what lots hold, and proving all of it."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from typing import Any, Final

from django.db import connection

from tests.bench.bare_entries import connect
from tests.bench.figures import Figure, seconds
from tests.bench.places import ROOT, open_plain_ledger

MOVEMENTS: Final = 5_000_000
LOTS: Final = 100
CACHED_GOAL: Final = 10
VERIFY_SECONDS: Final = 5
VERIFY_MB: Final = 300

CACHED: Final = "SELECT id, on_hand_base FROM inventory_lot WHERE id IN ({ids})"
SUMMED: Final = (
    "SELECT lot_id, SUM(qty_base) FROM inventory_movement WHERE lot_id IN ({ids}) GROUP BY lot_id"
)


def rows() -> Iterator[Figure]:
    """The cache beside the sum, and `verify` beside what it may take."""
    with open_plain_ledger(movements=MOVEMENTS):
        yield _on_hand()
        yield from _verify("five million movements")
    yield from _verify("this shop")


def _on_hand() -> Figure:
    bare = connect()
    ids = ", ".join(str(number * 997 + 1) for number in range(LOTS))

    def ask(sql: str) -> list[Any]:
        return sorted(bare.execute(sql.format(ids=ids)).fetchall())

    assert ask(CACHED) == ask(SUMMED)
    assert len(ask(CACHED)) == LOTS
    cached = seconds(lambda: ask(CACHED), times=20)
    summed = seconds(lambda: ask(SUMMED), times=20)
    bare.close()
    return Figure(
        "what 100 lots of 50 movements hold: cached, beside added up", cached, summed, CACHED_GOAL
    )


def _verify(what: str) -> Iterator[Figure]:
    """The command as a person runs it, its start included; and the most memory it took."""
    command = [sys.executable, "manage.py", "verify"]
    began = time.perf_counter()
    child = subprocess.Popen(  # noqa: S603 - our own command
        command, cwd=ROOT, env={**os.environ, "DATABASE_URL": _url()}, stdout=subprocess.DEVNULL
    )
    _, status, used = os.wait4(child.pid, 0)
    took = time.perf_counter() - began
    assert os.waitstatus_to_exitcode(status) == 0, "nothing is wrong with it"
    child.returncode = 0
    yield Figure(f"verify of {what}", took, VERIFY_SECONDS, 1)
    if connection.vendor == "sqlite":  # which works in that process; on a busy machine this tells
        busy = used.ru_utime + used.ru_stime
        yield Figure(f"verify of {what}, processor time", busy, VERIFY_SECONDS, 1)
    yield Figure(f"verify of {what}, memory", used.ru_maxrss / 1024, VERIFY_MB, 1, "MB")


def _url() -> str:
    settings = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{settings['NAME']}"
    where = f"{settings['USER']}:{settings['PASSWORD']}@{settings['HOST']}:{settings['PORT']}"
    return f"postgres://{where}/{settings['NAME']}"
