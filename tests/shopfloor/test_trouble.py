"""What a driver says of a database that cannot serve, in words; a mistake of ours is none of it.

Names: SQLite's list of result codes, and appendix A of the PostgreSQL 15 manual.
"""

from __future__ import annotations

import sqlite3

import psycopg
import pytest
from django.db import DatabaseError, InterfaceError, OperationalError, ProgrammingError

from shopfloor.trouble import AWAY, BUSY, DAMAGED, DISK_FULL, READ_ONLY, Trouble, trouble_of

SQLITE = [
    ("SQLITE_BUSY", BUSY),
    ("SQLITE_BUSY_SNAPSHOT", BUSY),
    ("SQLITE_LOCKED_SHAREDCACHE", BUSY),
    ("SQLITE_FULL", DISK_FULL),
    ("SQLITE_IOERR_SHMSIZE", DISK_FULL),
    ("SQLITE_IOERR_FSYNC", AWAY),
    ("SQLITE_CANTOPEN", AWAY),
    ("SQLITE_READONLY_DBMOVED", READ_ONLY),
    ("SQLITE_CORRUPT_INDEX", DAMAGED),
    ("SQLITE_NOTADB", DAMAGED),
    ("SQLITE_ERROR", None),
    ("SQLITE_TOOBIG", None),
]
POSTGRESQL = [
    ("40001", BUSY),  # serialization_failure
    ("40P01", BUSY),  # deadlock_detected
    ("55P03", BUSY),  # lock_not_available
    ("57014", BUSY),  # query_canceled
    ("53100", DISK_FULL),  # disk_full
    ("53300", AWAY),  # too_many_connections
    ("57P01", AWAY),  # admin_shutdown
    ("57P03", AWAY),  # cannot_connect_now
    ("08006", AWAY),  # connection_failure
    ("25006", READ_ONLY),  # read_only_sql_transaction
    ("XX001", DAMAGED),  # data_corrupted
    ("42P01", None),  # undefined_table
    ("25P02", None),  # in_failed_sql_transaction
]


def wrapped(cause: Exception, *, kind: type[Exception] = DatabaseError) -> Exception:
    """As Django wraps what the driver says."""
    error = kind("x")
    error.__cause__ = cause
    return error


@pytest.mark.parametrize(("name", "trouble"), SQLITE)
def test_sqlite_tells_by_a_name(name: str, trouble: Trouble | None) -> None:
    cause = sqlite3.DatabaseError("x")
    cause.sqlite_errorname = name
    assert trouble_of(wrapped(cause)) == trouble


@pytest.mark.parametrize(("state", "trouble"), POSTGRESQL)
def test_postgresql_tells_by_a_state(state: str, trouble: Trouble | None) -> None:
    assert trouble_of(wrapped(psycopg.errors.lookup(state)("x"))) == trouble


@pytest.mark.parametrize("kind", [OperationalError, InterfaceError])
def test_a_lost_connection_tells_nothing_and_is_away(kind: type[Exception]) -> None:
    assert (
        trouble_of(wrapped(psycopg.OperationalError("the connection is lost"), kind=kind)) == AWAY
    )


def test_a_mistake_of_ours_is_no_trouble_of_the_database() -> None:
    assert trouble_of(wrapped(psycopg.ProgrammingError("x"), kind=ProgrammingError)) is None
    assert trouble_of(wrapped(sqlite3.InterfaceError("bad binding"), kind=InterfaceError)) is None
    assert trouble_of(ZeroDivisionError()) is None
