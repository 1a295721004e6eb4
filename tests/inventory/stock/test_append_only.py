"""History is only added to: the database refuses every other way, on every such table."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from typing import Any

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import DatabaseError, connection, models, transaction
from django.db.models import F

from inventory.stock.models import Hold
from shopfloor import append_only
from tests.inventory.stock.conftest import NOON

Model = type[models.Model]

MODELS = {model._meta.db_table: model for model in apps.get_models()}
TABLES = append_only.append_only_tables()

BY_KIND: dict[type[models.Field[Any, Any]], object] = {
    models.DateTimeField: NOON,
    models.DateField: date(2026, 3, 2),
    models.JSONField: {},
    models.CharField: "x",
    models.TextField: "x",
}

# What a row must hold that the first value of its kind is not.
FITTING = {
    ("batches_check", "failed"): 0,  # it passed
    ("batches_complaint", "lot"): 1,  # it is of one thing
}

LEDGER = {"posting", "movement", "lotevent", "hold", "heldlot", "holdrelease", "count", "countline"}


@pytest.fixture
def undone(db: None) -> Iterator[None]:
    """All is undone before anybody asks whom the rows of the test point at."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def column(model: Model) -> models.Field[Any, Any]:
    """Some column that is not the key."""
    return next(field for field in model._meta.concrete_fields if not field.primary_key)


def value_of(field: models.Field[Any, Any]) -> object:
    """Something that the column takes."""
    if (field.model._meta.db_table, field.name) in FITTING:
        return FITTING[field.model._meta.db_table, field.name]
    if field.null or field.has_default():
        return field.get_default()
    if field.choices:
        return next(iter(field.flatchoices))[0]
    return next((value for kind, value in BY_KIND.items() if isinstance(field, kind)), 1)


def add_row(model: Model) -> models.Model:
    """A row; whom it points at is asked at the end of the transaction, which does not come."""
    fields = [f for f in model._meta.concrete_fields if not f.primary_key or f.is_relation]
    row = model(**{field.attname: value_of(field) for field in fields})
    row.save(force_insert=True)
    return row


def same(model: Model) -> dict[str, Any]:
    return {column(model).name: F(column(model).attname)}


def run(sql: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql)


WAYS: dict[str, Callable[[Model, models.Model], object]] = {
    "save": lambda model, row: row.save(),
    "update": lambda model, row: model._default_manager.update(**same(model)),
    "bulk_update": lambda model, row: model._default_manager.bulk_update(
        [row], [column(model).name]
    ),
    "delete": lambda model, row: row.delete(),
    "delete all": lambda model, row: model._default_manager.all().delete(),
    "add or update": lambda model, row: model._default_manager.bulk_create(
        [row],
        update_conflicts=True,
        unique_fields=[model._meta.pk.name],
        update_fields=[column(model).name],
    ),
    "UPDATE": lambda model, row: run(
        f'UPDATE "{model._meta.db_table}" SET "{column(model).column}" = "{column(model).column}"'  # noqa: S608 - our own table
    ),
    "DELETE": lambda model, row: run(f'DELETE FROM "{model._meta.db_table}"'),  # noqa: S608 - as above
}


def test_the_ledger_is_among_the_tables_that_only_grow() -> None:
    assert {f"inventory_{name}" for name in LEDGER} < set(TABLES)
    assert {"shopfloor_change", "batches_entry", "inventory_booksclosing"} < set(TABLES)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("table", TABLES)
def test_a_row_that_stands_is_neither_changed_nor_removed(
    undone: None, table: str, way: str
) -> None:
    model = MODELS[table]
    row = add_row(model)
    before = list(model._default_manager.values())
    words = f"append-only: rows of {table} are never"
    with pytest.raises(DatabaseError, match=words), transaction.atomic():
        WAYS[way](model, row)
    assert list(model._default_manager.values()) == before


@pytest.mark.only_on("sqlite")
@pytest.mark.parametrize("table", TABLES)
def test_a_row_is_not_replaced(undone: None, table: str) -> None:
    add_row(MODELS[table])
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        run(f'INSERT OR REPLACE INTO "{table}" SELECT * FROM "{table}"')  # noqa: S608 - our own table


@pytest.mark.only_on("postgresql")
@pytest.mark.parametrize("table", TABLES)
def test_a_table_is_not_truncated(undone: None, table: str) -> None:
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        run(f'TRUNCATE "{table}" CASCADE')


@pytest.mark.parametrize("table", TABLES)
def test_each_trigger_that_is_missing_is_named(undone: None, table: str) -> None:
    expected = append_only.expected_triggers(connection.vendor)
    names = sorted(name for name, guarded in expected.items() if guarded == table)
    assert len(names) == 2
    on_table = f' ON "{table}"' if connection.vendor == "postgresql" else ""
    for name in names:
        run(f'DROP TRIGGER "{name}"{on_table}')
    assert append_only.missing_triggers() == names
    append_only.install_triggers()
    assert append_only.missing_triggers() == []


@pytest.mark.only_on("postgresql")
@pytest.mark.parametrize("how", ["DISABLE", "ENABLE REPLICA"])
def test_a_trigger_that_is_switched_off_is_named(undone: None, how: str) -> None:
    run(f'ALTER TABLE "inventory_hold" {how} TRIGGER "inventory_hold_no_change"')
    assert append_only.missing_triggers() == ["inventory_hold_no_change"]


@pytest.mark.only_on("sqlite")
@pytest.mark.django_db(transaction=True)
def test_a_migration_that_remakes_a_table_leaves_it_guarded() -> None:
    was = Hold._meta.get_field("reason")
    becomes = models.CharField(max_length=301)
    becomes.set_attributes_from_name("reason")
    with connection.schema_editor() as editor:
        editor.alter_field(Hold, was, becomes)
    lost = ["inventory_hold_no_delete", "inventory_hold_no_update"]
    assert append_only.missing_triggers() == lost
    call_command("migrate", verbosity=0)
    assert append_only.missing_triggers() == []
    with connection.schema_editor() as editor:
        editor.alter_field(Hold, becomes, was)
    append_only.install_triggers()


@pytest.mark.only_on("postgresql")
@pytest.mark.django_db(transaction=True)
def test_a_migration_puts_back_what_somebody_dropped_or_switched_off() -> None:
    run('ALTER TABLE "inventory_hold" DISABLE TRIGGER USER')
    run('DROP TRIGGER "inventory_count_no_truncate" ON "inventory_count"')
    assert len(append_only.missing_triggers()) == 3
    call_command("migrate", verbosity=0)
    assert append_only.missing_triggers() == []
