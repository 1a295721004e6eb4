"""SQLite: a copy while people work, and a copy put in the place of the file."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from django.db import connection

from shopfloor.backup.archive import DatabaseState
from shopfloor.backup.errors import BackupRefusedError
from shopfloor.backup.places import settle
from shopfloor.backup.state import SIGNED_IN_TABLE, database_state


def database_file() -> Path:
    """The file of this shop's database."""
    return Path(str(connection.settings_dict["NAME"]))


def database_bytes() -> int:
    """How large the database is, with what has not been folded into it yet."""
    file = database_file()
    beside = file.with_name(f"{file.name}-wal")
    return sum(each.stat().st_size for each in (file, beside) if each.exists())


def copy_database(target: Path) -> DatabaseState:
    """Copy the database as it is at one moment; nobody waits for it.

    Args:
        target: An empty file; what becomes of it is one file, without a log beside it.

    Raises:
        BackupRefusedError: the database is damaged.
    """
    source = f"{database_file().resolve().as_uri()}?mode=rw"
    with closing(sqlite3.connect(source, uri=True)) as shop, closing(_plain(target)) as copy:
        # All pages in one step: in more, every posting in between would begin the copy anew.
        shop.backup(copy, pages=-1)
        copy.execute("PRAGMA journal_mode=DELETE")
        copy.execute("PRAGMA secure_delete=ON")
        if SIGNED_IN_TABLE in _tables(copy):
            copy.execute(f"DELETE FROM {SIGNED_IN_TABLE}")  # noqa: S608 - a constant
        refuse_damaged(copy, "The database of this shop is damaged, so no backup of it was made")
        return database_state(copy.cursor(), _tables(copy))


def copied_state(file: Path) -> DatabaseState:
    """What a copy holds.

    Raises:
        BackupRefusedError: it is damaged.
    """
    with closing(_plain(file)) as copy:
        refuse_damaged(copy, "The database in this backup is damaged")
        return database_state(copy.cursor(), _tables(copy))


def refuse_damaged(copy: sqlite3.Connection, words: str) -> None:
    """Look through the whole file.

    Raises:
        BackupRefusedError: SQLite finds fault with it.
    """
    try:
        found = [str(row[0]) for row in copy.execute("PRAGMA quick_check(3)")]
    except sqlite3.DatabaseError as error:
        found = [str(error)]
    if found != ["ok"]:
        raise BackupRefusedError(
            f"{words} ({'; '.join(found)}). Keep the older backups, and restore one of them."
        )


def refuse_in_use() -> None:
    """Fold the log into the database file, which only its one user can.

    Raises:
        BackupRefusedError: another program has it open.
    """
    file = database_file()
    connection.close()
    if not file.exists():
        return
    try:
        with closing(_plain(file)) as alone:
            alone.execute("PRAGMA journal_mode=DELETE")
            alone.execute("BEGIN EXCLUSIVE")
            alone.execute("ROLLBACK")
    except sqlite3.OperationalError as error:
        raise BackupRefusedError(
            "The shop is running: something has its database open. End it first. "
            "Nothing was changed."
        ) from error
    except sqlite3.DatabaseError:
        return  # damaged: that is why it is replaced


def put_in_place(copy: Path) -> None:
    """Make a copy on the same disk the database of this shop."""
    file = database_file()
    connection.close()
    for end in ("-wal", "-shm"):
        file.with_name(f"{file.name}{end}").unlink(missing_ok=True)
    os.replace(copy, file)
    settle(file.parent)


def _plain(file: Path) -> sqlite3.Connection:
    return sqlite3.connect(file, isolation_level=None, timeout=5)


def _tables(copy: Any) -> list[str]:
    found = copy.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%'"
        " ESCAPE '\\'"
    )
    return [str(row[0]) for row in found]
