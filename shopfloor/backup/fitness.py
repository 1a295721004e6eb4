"""Whether a backup fits this program and this database, and whether all of it came out."""

from __future__ import annotations

import re
from typing import Final

from django.db import connection

from shopfloor.backup import postgresql
from shopfloor.backup.archive import DatabaseState, Manifest
from shopfloor.backup.errors import BackupRefusedError
from shopfloor.schema import unknown_migrations

NAMES: Final = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}
MOST_NAMED: Final = 5


def refuse_unfit(manifest: Manifest) -> None:
    """Refuse what this program or this kind of database cannot take.

    Raises:
        BackupRefusedError: what to do instead.
    """
    theirs, ours = NAMES[manifest.kind], NAMES[connection.vendor]
    if theirs != ours:
        raise BackupRefusedError(
            f"This is a backup of a {theirs} database, and this shop is on {ours}. Restore it on "
            f"{theirs}, then move the shop: `manage.py export FOLDER` there and `manage.py import "
            "FOLDER` here."
        )
    had = [(app, name) for app, names in manifest.state.migrations.items() for name in names]
    if newer := unknown_migrations(had):
        raise BackupRefusedError(
            "This backup was made by a newer version of this program (it knows "
            f"{', '.join(newer[:MOST_NAMED])}). Update this one first."
        )
    if manifest.kind == "postgresql":
        _refuse_newer_server(manifest.versions["database"])


def refuse_different(*, expected: DatabaseState, found: DatabaseState) -> None:
    """Compare what a restored database holds with what the manifest counted.

    Raises:
        BackupRefusedError: something is missing, or too much.
    """
    tables = sorted(set(expected.rows) | set(found.rows))
    wrong = [
        f"{table} has {found.rows.get(table, 'no table')} rows instead of "
        f"{expected.rows.get(table, 'no table')}"
        for table in tables
        if found.rows.get(table) != expected.rows.get(table)
    ]
    if found.migrations != expected.migrations:
        wrong.append("its migrations are others")
    if wrong:
        raise BackupRefusedError(
            "What came out of this backup is not what its manifest counted: "
            f"{'; '.join(wrong[:MOST_NAMED])}. Take another backup."
        )


def _refuse_newer_server(theirs: str) -> None:
    major = int((re.match(r"\d+", theirs) or ["0"])[0])
    if major > postgresql.server_major():
        raise BackupRefusedError(
            f"This backup comes from PostgreSQL {theirs}, and this server is older "
            f"({postgresql.server_version()}). Restore it on a server of that version or newer."
        )
