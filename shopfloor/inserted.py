"""Rows written in one statement whose words are put together once.

Django puts an INSERT together anew for every few rows, which takes it longer than the database
needs to write them. Worth it only for what everybody who records waits for.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any, Final, NamedTuple, TypeVar

from django.db import connection
from django.db.models import Field, Model

from shopfloor.planned import planned_cursor

M = TypeVar("M", bound=Model)

PARAMETERS_MAX: Final = 30_000  # SQLite takes 32,766
PLAIN: Final = frozenset({int, str, type(None)})


class _Shape(NamedTuple):
    fields: tuple[Field[Any, Any], ...]
    head: str
    marks: str
    tail: str


def insert(rows: Sequence[M]) -> Sequence[M]:
    """Write new rows of one table, as `bulk_create` does: their keys are set, no signal is sent.

    Needs an open transaction. One statement, one more for every 30,000 values.

    Raises:
        IntegrityError: the table's constraints refuse a row.
    """
    if not rows:
        return rows
    assert connection.in_atomic_block, "several statements stand or fall together"
    shape = _shape(type(rows[0]))
    most = PARAMETERS_MAX // len(shape.fields)
    with planned_cursor() as cursor:
        for first in range(0, len(rows), most):
            some = rows[first : first + most]
            marks = ", ".join([shape.marks] * len(some))
            cursor.execute(
                f"{shape.head}{marks}{shape.tail}",
                [
                    _adapted(field, getattr(row, field.attname))
                    for row in some
                    for field in shape.fields
                ],
            )
            if shape.tail:
                for row, (key,) in zip(some, cursor.fetchall(), strict=True):
                    row.pk = key
    for row in rows:
        row._state.adding = False
        row._state.db = connection.alias
    return rows


@cache
def _shape(model: type[Model]) -> _Shape:
    """The words of a table's INSERT; a key that the database gives comes back."""
    key: Any = model._meta.pk
    fields = tuple(
        field for field in model._meta.concrete_fields if not (field is key and field.db_returning)
    )
    names = ", ".join(connection.ops.quote_name(str(field.column)) for field in fields)
    table = connection.ops.quote_name(model._meta.db_table)
    return _Shape(
        fields=fields,
        head=f"INSERT INTO {table} ({names}) VALUES ",  # noqa: S608 - our own names
        marks=f"({', '.join(['%s'] * len(fields))})",
        tail=f" RETURNING {connection.ops.quote_name(key.column)}" if key.db_returning else "",
    )


def _adapted(field: Field[Any, Any], value: Any) -> Any:
    """A value as the driver takes it, which takes most as they are."""
    if type(value) in PLAIN:
        return value
    return field.get_db_prep_save(value, connection)
