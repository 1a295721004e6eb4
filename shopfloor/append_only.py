"""History that the database itself refuses to change: append-only tables and their triggers.

The list is every model that inherits `AppendOnly`. The triggers are put back after every migrate,
because SQLite
drops them when it remakes a table; `missing_triggers` lets `verify` and a system check prove that
they stand.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.apps import apps
from django.db import connections, models

PG_FUNCTION = """
CREATE OR REPLACE FUNCTION shop_append_only() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'append-only: rows of % are never changed or removed', TG_TABLE_NAME
        USING ERRCODE = 'restrict_violation';
END $$
"""


class AppendOnly(models.Model):
    """Rows are added, never changed and never removed; a wrong one is answered by a later one."""

    class Meta:
        abstract = True


def append_only_tables() -> list[str]:
    """Names of the tables that only grow, sorted."""
    return sorted(m._meta.db_table for m in apps.get_models() if issubclass(m, AppendOnly))


def expected_triggers(vendor: str) -> dict[str, str]:
    """Trigger name to table, for every append-only table on this kind of database."""
    events = ("update", "delete") if vendor == "sqlite" else ("change", "truncate")
    return {f"{table}_no_{event}": table for table in append_only_tables() for event in events}


def install_triggers(using: str = "default") -> None:
    """Put every trigger in place; safe to run again."""
    connection = connections[using]
    existing = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(PG_FUNCTION)
        for name, table in expected_triggers(connection.vendor).items():
            if table in existing:
                for statement in _trigger_sql(name, table, connection.vendor):
                    cursor.execute(statement)


def drop_triggers(using: str = "default") -> None:
    """Take the triggers away, for a test database that must be emptied.

    The product never calls this.
    """
    connection = connections[using]
    with connection.cursor() as cursor:
        for name, table in expected_triggers(connection.vendor).items():
            on_table = f' ON "{table}"' if connection.vendor == "postgresql" else ""
            cursor.execute(f'DROP TRIGGER IF EXISTS "{name}"{on_table}')


def missing_triggers(using: str = "default") -> list[str]:
    """Triggers that should stand and do not, or are switched off."""
    connection = connections[using]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled IN ('O', 'A')"
            )
        else:
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        standing = {row[0] for row in cursor.fetchall()}
    return sorted(set(expected_triggers(connection.vendor)) - standing)


def _trigger_sql(name: str, table: str, vendor: str) -> Sequence[str]:
    event = name.rpartition("_no_")[2]
    if vendor == "sqlite":
        words = f"append-only: rows of {table} are never changed or removed"
        create = (
            f'CREATE TRIGGER "{name}" BEFORE {event.upper()} ON "{table}"'
            f" BEGIN SELECT RAISE(ABORT, '{words}'); END"
        )
        return (f'DROP TRIGGER IF EXISTS "{name}"', create)
    when, each = ("UPDATE OR DELETE", "ROW") if event == "change" else ("TRUNCATE", "STATEMENT")
    create = (
        f'CREATE OR REPLACE TRIGGER "{name}" BEFORE {when} ON "{table}"'
        f" FOR EACH {each} EXECUTE FUNCTION shop_append_only()"
    )
    return (create,)
