"""What a database that cannot serve says to a person: what it is, and what to do.

Drivers tell by a name (SQLite) or by an SQLSTATE (PostgreSQL: its manual, appendix on error codes);
one that lost its connection tells nothing. Whatever is not known here is a mistake of ours.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from django.db import DatabaseError, InterfaceError, OperationalError


class Trouble(NamedTuple):
    """A database that cannot serve.

    Attributes:
        status: HTTP status.
        code: Stable word for programs.
        detail: What is wrong and what to do.
        is_passing: Whether sending the same again soon may well succeed.
    """

    status: int
    code: str
    detail: str
    is_passing: bool = False


BUSY: Final = Trouble(
    503,
    "database_busy",
    "Others are writing, and waiting for them took too long; nothing was written. "
    "Try again in a few seconds.",
    is_passing=True,
)
AWAY: Final = Trouble(
    503,
    "database_unavailable",
    "The database cannot answer now. Send the same again in a few seconds, under the same "
    "Idempotency-Key: what was carried out already is not carried out twice.",
    is_passing=True,
)
DISK_FULL: Final = Trouble(
    507,
    "disk_full",
    "The disk of the database is full; nothing was written. Tell whoever looks after the program "
    "to make room on it, then send the same again.",
)
READ_ONLY: Final = Trouble(
    503,
    "database_read_only",
    "The database may be read but not written, so nothing was. Tell whoever looks after the "
    "program: its file and folder, or the server, must allow it to write.",
)
DAMAGED: Final = Trouble(
    500,
    "database_damaged",
    "The database is damaged. Stop recording, keep its files as they are, and tell whoever looks "
    "after the program: the newest good backup is needed.",
)
TROUBLES: Final = (BUSY, AWAY, DISK_FULL, READ_ONLY, DAMAGED)

# How names of SQLite's result codes begin: extended ones (SQLITE_BUSY_SNAPSHOT) add to them.
_SQLITE: Final = {
    "SQLITE_BUSY": BUSY,
    "SQLITE_LOCKED": BUSY,
    "SQLITE_PROTOCOL": BUSY,
    "SQLITE_FULL": DISK_FULL,
    "SQLITE_IOERR_SHMSIZE": DISK_FULL,  # no room to make the shared index of the write-ahead log
    "SQLITE_READONLY": READ_ONLY,
    "SQLITE_PERM": READ_ONLY,
    "SQLITE_CORRUPT": DAMAGED,
    "SQLITE_NOTADB": DAMAGED,
    "SQLITE_CANTOPEN": AWAY,
    "SQLITE_IOERR": AWAY,
}

# How SQLSTATEs begin.
_POSTGRESQL: Final = {
    "40001": BUSY,  # serialization failure
    "40P01": BUSY,  # deadlock
    "55P03": BUSY,  # lock not available: lock_timeout
    "57014": BUSY,  # query canceled: statement_timeout
    "53100": DISK_FULL,
    "25006": READ_ONLY,  # a stand-by server
    "XX001": DAMAGED,
    "XX002": DAMAGED,
    "08": AWAY,  # connection
    "25P03": AWAY,  # idle-in-transaction time-out
    "53": AWAY,  # too many connections, out of memory
    "57P": AWAY,  # shut down, crashed, starting up
    "58": AWAY,  # the system under the server
}


def trouble_of(error: BaseException) -> Trouble | None:
    """What a failure of the database means; `None` when it is a mistake of ours."""
    if not isinstance(error, DatabaseError | InterfaceError):
        return None
    cause = error.__cause__
    if name := getattr(cause, "sqlite_errorname", None):
        return _by_start(_SQLITE, name)
    if state := getattr(cause, "sqlstate", None):
        return _by_start(_POSTGRESQL, state)
    # PostgreSQL's driver gives no state to a connection that was refused, lost or closed.
    is_lost = isinstance(error, OperationalError | InterfaceError)
    return AWAY if is_lost and not _is_of_sqlite(cause) else None


def _by_start(troubles: dict[str, Trouble], name: str) -> Trouble | None:
    """The first whose name this one begins with: the more special stand above."""
    return next((trouble for start, trouble in troubles.items() if name.startswith(start)), None)


def _is_of_sqlite(cause: BaseException | None) -> bool:
    return cause is not None and type(cause).__module__ == "sqlite3"
