"""History that the database itself refuses to change: append-only and frozen rows, by triggers.

The list is every model that inherits `AppendOnly` or says `frozen_when`. The triggers are put back
after every migrate, because SQLite drops them when it remakes a table; `missing_triggers` lets
`verify` and a system check prove that they stand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

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


class _Guard(NamedTuple):
    """What a trigger refuses: an event on a table, always or under a condition."""

    table: str
    event: str
    condition: str = ""


def _frozen(vendor: str) -> dict[str, _Guard]:
    """The triggers of tables whose rows freeze, by name.

    Such a model says `frozen_when`: what refuses an "insert", "update" or "delete", as a condition
    over OLD and NEW that both databases understand. It may ask other tables.
    """
    guards: dict[str, _Guard] = {}
    for model in apps.get_models():
        conditions: Mapping[str, str] = getattr(model, "frozen_when", {})
        table = model._meta.db_table
        guards |= {
            f"{table}_no_{event}": _Guard(table, event, condition)
            for event, condition in conditions.items()
        }
        if conditions and vendor == "postgresql":
            guards[f"{table}_no_truncate"] = _Guard(table, "truncate")
    return guards


def _guards(vendor: str) -> dict[str, _Guard]:
    """Every trigger there should be on this kind of database, by name."""
    events = ("update", "delete") if vendor == "sqlite" else ("change", "truncate")
    return _frozen(vendor) | {
        f"{table}_no_{event}": _Guard(table, event)
        for table in append_only_tables()
        for event in events
    }


def expected_triggers(vendor: str) -> dict[str, str]:
    """Trigger name to table, for every guarded table on this kind of database."""
    return {name: guard.table for name, guard in _guards(vendor).items()}


def install_triggers(using: str = "default") -> None:
    """Put every trigger in place; safe to run again."""
    connection = connections[using]
    existing = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(PG_FUNCTION)
        for name, guard in _guards(connection.vendor).items():
            if guard.table in existing:
                for statement in _trigger_sql(name, guard, connection.vendor):
                    cursor.execute(statement)


def make_way_for_migrations(using: str = "default") -> None:
    """Take away the triggers that ask other tables: SQLite remakes no table that one of them asks.

    They come back with the rest, after the migrate.
    """
    connection = connections[using]
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            for name in _frozen(connection.vendor):
                cursor.execute(f'DROP TRIGGER IF EXISTS "{name}"')


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


def _trigger_sql(name: str, guard: _Guard, vendor: str) -> Sequence[str]:
    table, event, condition = guard
    words = (
        f"frozen: this row of {table} is no longer changed"
        if condition
        else f"append-only: rows of {table} are never changed or removed"
    )
    if vendor == "sqlite":
        when = f" WHEN {condition}" if condition else ""
        create = (
            f'CREATE TRIGGER "{name}" BEFORE {event.upper()} ON "{table}"{when}'
            f" BEGIN SELECT RAISE(ABORT, '{words}'); END"
        )
        return (f'DROP TRIGGER IF EXISTS "{name}"', create)
    function = f'"{name}"' if condition else "shop_append_only"
    when, each = {
        "change": ("UPDATE OR DELETE", "ROW"),
        "truncate": ("TRUNCATE", "STATEMENT"),
    }.get(event, (event.upper(), "ROW"))
    create = (
        f'CREATE OR REPLACE TRIGGER "{name}" BEFORE {when} ON "{table}"'
        f" FOR EACH {each} EXECUTE FUNCTION {function}()"
    )
    # A function of its own: what a trigger of PostgreSQL says with WHEN may not ask other tables.
    return (_frozen_function(function, condition, words), create) if condition else (create,)


def _frozen_function(function: str, condition: str, words: str) -> str:
    return f"""
        CREATE OR REPLACE FUNCTION {function}() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            IF {condition} THEN
                RAISE EXCEPTION '{words}' USING ERRCODE = 'restrict_violation';
            END IF;
            IF TG_OP = 'DELETE' THEN RETURN OLD; END IF;
            RETURN NEW;
        END $$
    """
