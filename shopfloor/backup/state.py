"""What a database holds, asked through any cursor, so that it is true of one snapshot."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import Any, Final

from shopfloor.backup.archive import DatabaseState

# Whoever reads a backup must not be able to come in as somebody who was signed in at the time.
SIGNED_IN_TABLE: Final = "django_session"
NEW_SHOP: Final = "new"
SHOP_LENGTH: Final = 8


def database_state(cursor: Any, tables: Iterable[str]) -> DatabaseState:
    """Count the rows of the tables, and read which shop this is and which migrations it had."""
    tables = sorted(tables)
    rows = {}
    for table in tables:
        cursor.execute(f'SELECT COUNT(*) FROM "{table}"')  # noqa: S608 - of the database's own list
        rows[table] = int(cursor.fetchone()[0])
    migrations: dict[str, list[str]] = {}
    if "django_migrations" in tables:
        cursor.execute("SELECT app, name FROM django_migrations ORDER BY app, name")
        for app, name in cursor.fetchall():
            migrations.setdefault(app, []).append(name)
    return DatabaseState(shop=_shop(cursor, tables), migrations=migrations, rows=rows)


def _shop(cursor: Any, tables: list[str]) -> str:
    """Eight characters that tell this shop from others, wherever it moves."""
    if "shopfloor_change" not in tables:
        return NEW_SHOP
    cursor.execute("SELECT at FROM shopfloor_change ORDER BY id LIMIT 1")
    first = cursor.fetchone()
    if first is None:
        return NEW_SHOP
    # SQLite answers text, PostgreSQL a datetime in UTC: both begin alike.
    moment = str(first[0]).replace("T", " ").removesuffix("+00:00")
    return hashlib.sha256(moment.encode()).hexdigest()[:SHOP_LENGTH]
