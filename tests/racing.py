"""Two or more at once, on a database of several connections: together, or one behind another."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier, Event
from typing import ParamSpec, TypeVar

from django.db import connection, connections, transaction

from shopfloor.errors import ShopError
from shopfloor.operation import Operation

P = ParamSpec("P")
R = TypeVar("R")

WAIT_SECONDS_MAX = 20
# In this database only: other tests may run on the same server.
WAITING = """
    SELECT EXISTS (
        SELECT 1 FROM pg_locks l JOIN pg_stat_activity a ON a.pid = l.pid
        WHERE NOT l.granted AND a.datname = current_database()
    )
"""
SQLITE_WAIT_SECONDS = 0.3


def at_once(*calls: Callable[[], object]) -> list[object]:
    """Run the calls together; of each, in order, what it answered, or the refusal."""
    start = Barrier(len(calls))

    def run(call: Callable[[], object]) -> object:
        try:
            connection.ensure_connection()  # before the start: connecting would spread the calls
            start.wait(WAIT_SECONDS_MAX)
            return call()
        except ShopError as refusal:
            return refusal
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(calls)) as pool:
        return list(pool.map(run, calls))


def codes(answers: list[object]) -> list[str]:
    """The code of each refusal, or `done`, sorted."""
    return sorted(answer.code if isinstance(answer, ShopError) else "done" for answer in answers)


def inside(operation: Operation[P, R]) -> Callable[P, R]:
    """What an operation does in its transaction, without one: the caller has opened it."""
    function: Callable[P, R] = vars(operation)["__wrapped__"]
    return function


def one_behind_the_other(first: Callable[[], object], second: Callable[[], object]) -> list[object]:
    """Run `second` while the transaction of `first` is open: it must wait, and then sees the end.

    Args:
        first: What is `inside` an operation; run in a transaction that stays open until `second`
            waits for it.
        second: An operation.
    """
    is_written = Event()

    def lead() -> object:
        try:
            with transaction.atomic():
                answer = first()
                is_written.set()
                _wait_until_somebody_waits()
            return answer
        finally:
            is_written.set()
            connections.close_all()

    def follow() -> object:
        try:
            connection.ensure_connection()
            assert is_written.wait(WAIT_SECONDS_MAX)
            return second()
        except ShopError as refusal:
            return refusal
        finally:
            connections.close_all()

    with ThreadPoolExecutor(2) as pool:
        return [future.result() for future in [pool.submit(lead), pool.submit(follow)]]


def _wait_until_somebody_waits() -> None:
    """PostgreSQL says who waits. On SQLite whoever writes waits before its first statement."""
    if connection.vendor != "postgresql":
        time.sleep(SQLITE_WAIT_SECONDS)
        return
    for _ in range(WAIT_SECONDS_MAX * 100):
        with connection.cursor() as cursor:
            cursor.execute(WAITING)
            row = cursor.fetchone()
        if row is not None and row[0]:
            return
        time.sleep(0.01)
    raise AssertionError("nobody waited for the lock")
