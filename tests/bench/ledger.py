"""A ledger of five million movements: what lots hold, and proving all of it."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from functools import partial
from typing import Any, Final

from django.db import connection

from tests.bench.bare_entries import connect
from tests.bench.figures import Figure, seconds
from tests.bench.places import ROOT, open_plain_ledger

MOVEMENTS: Final = 5_000_000
LOTS: Final = 100
CALLS: Final = 10
CACHED_GOAL: Final = 10
VERIFY_SECONDS: Final = 5
VERIFY_MB: Final = 300

# What is read: from the lots' caches, and added up from their movements.
ONE_PAGE: Final = (
    "SELECT id, on_hand_base FROM inventory_lot WHERE id IN ({ids})",
    "SELECT lot_id, SUM(qty_base) FROM inventory_movement WHERE lot_id IN ({ids}) GROUP BY lot_id",
)
EVERY_LOT: Final = (
    "SELECT COUNT(*), SUM(on_hand_base) FROM inventory_lot WHERE on_hand_base > 0",
    """SELECT COUNT(*), SUM(qty) FROM (
        SELECT SUM(qty_base) AS qty FROM inventory_movement GROUP BY lot_id HAVING SUM(qty_base) > 0
    ) s""",
)


def rows() -> Iterator[Figure]:
    """The cache beside the sum, and `verify` beside what it may take."""
    with open_plain_ledger(movements=MOVEMENTS):
        yield from _on_hand()
        yield from _verify("five million movements")
    yield from _verify("this shop")


def _on_hand() -> Iterator[Figure]:
    bare = connect()
    ids = ", ".join(str(number * 997 + 1) for number in range(LOTS))

    def ask(sql: str) -> list[Any]:
        return sorted(bare.execute(sql.format(ids=ids)).fetchall())

    for what, (cached, summed) in {"100 lots hold": ONE_PAGE, "every lot holds": EVERY_LOT}.items():
        assert ask(cached) == ask(summed)
        yield Figure(
            f"what {what}, 50 movements each: cached beside added up",
            seconds(partial(ask, cached), times=CALLS),
            seconds(partial(ask, summed), times=CALLS),
            CACHED_GOAL,
        )
    bare.close()


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
