"""A set-up that operations make once; the next tests get the same rows put back, in bulk.

A test's shop is made as a shop makes it. But a thousand tests begin with the same shop, and to make
it again for each of them took half of all their time.

Rows come back under the numbers they had, since codes are made of numbers: that of a lot of its
posting's. Where another row has such a number by now, the set-up is made anew.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

from django.apps import apps
from django.db import connection, models

FLOORS: Final = ("shopfloor", "inventory", "batches")
Model = type[models.Model]
Table = Mapping[int, models.Model]  # rows by number


class Earlier(NamedTuple):
    """Points at a row that stood before.

    Attributes:
        model: Of its table.
        column: What finds it: its code or username, for its number may be another now; the number
            of what has no name, which then is of a set-up that is kept too.
        value: Of that column.
        words: The row as text.
    """

    model: Model
    column: str
    value: Any
    words: str


class Written(NamedTuple):
    """A statement, and the values of each row that it writes: as the driver takes them."""

    sql: str
    values: Sequence[Sequence[Any]]


class Kept:
    """A set-up.

    Args:
        make: Writes rows, by operations.
        first: Columns that hold something else until all rows stand: a released bill is frozen.
    """

    def __init__(
        self, make: Callable[..., None], *, first: Mapping[Model, Mapping[str, Any]] | None = None
    ) -> None:
        self._make, self._first = make, first or {}
        self._written: list[Written] = []
        self._earlier: set[Earlier] = set()
        self._asks_taken = ""
        self._moves_on = ""

    def __call__(self, **given: Any) -> None:
        """Make it, or put it back."""
        if not self._written:
            before = _standing()
            self._make(**given)
            self._keep(before)
        elif _is_true(self._asks_taken):
            self._make(**given)
        else:
            self._put_back()

    def _keep(self, before: Mapping[Model, Table]) -> None:
        numbers: dict[Model, list[int]] = {}
        late: list[Written] = []
        for model, rows in _standing().items():
            old = before[model]
            new = [row for number, row in rows.items() if number not in old]
            if new:
                numbers[model] = [row.pk for row in new]
                first = self._first.get(model, {})
                self._written.append(_inserted(new, first, before))
                late += [_updated(row, first, before) for row in new if first]
            for number in old.keys() & rows.keys():
                names = _changed(old[number], rows[number])
                late += [_updated(rows[number], names, before)] if names else []
        self._written += late
        values = (each for _, rows in self._written for row in rows for each in row)
        self._earlier = {each for each in values if isinstance(each, Earlier)}
        self._asks_taken = " OR ".join(_asking(*each) for each in numbers.items())
        self._moves_on = ", ".join(_moving_on(*each) for each in numbers.items())

    def _put_back(self) -> None:
        found = _found(self._earlier)
        with connection.cursor() as cursor:
            for sql, rows in self._written:
                cursor.executemany(
                    sql,
                    [[found[v] if isinstance(v, Earlier) else v for v in row] for row in rows],
                )
            if connection.vendor == "postgresql" and self._moves_on:
                cursor.execute(f"SELECT {self._moves_on}")


def _models() -> Iterator[Model]:
    """Our tables, those that are pointed at before those that point."""
    waiting = [model for floor in FLOORS for model in apps.get_app_config(floor).get_models()]
    done: set[Any] = set()
    while waiting:
        for model in list(waiting):
            if all(field.related_model in {*done, model} for field in _references(model)):
                waiting.remove(model)
                done.add(model)
                yield model


def _references(model: Model) -> list[models.ForeignKey[Any, Any]]:
    return [each for each in model._meta.concrete_fields if isinstance(each, models.ForeignKey)]


def _standing() -> dict[Model, Table]:
    return {
        model: {row.pk: row for row in model._default_manager.order_by("pk")} for model in _models()
    }


def _changed(old: models.Model, new: models.Model) -> list[str]:
    names = [field.attname for field in new._meta.concrete_fields]
    return [name for name in names if getattr(old, name) != getattr(new, name)]


def _inserted(
    rows: Sequence[models.Model], first: Mapping[str, Any], before: Mapping[Model, Table]
) -> Written:
    fields = rows[0]._meta.concrete_fields
    columns = ", ".join(f'"{field.column}"' for field in fields)
    marks = ", ".join(["%s"] * len(fields))
    sql = f'INSERT INTO "{rows[0]._meta.db_table}" ({columns}) VALUES ({marks})'  # noqa: S608 - ours
    return Written(
        sql,
        [
            [
                field.get_db_prep_save(first[field.attname], connection)
                if field.attname in first
                else _kept(field, row, before)
                for field in fields
            ]
            for row in rows
        ],
    )


def _updated(row: models.Model, names: Iterable[str], before: Mapping[Model, Table]) -> Written:
    key = row._meta.pk
    fields = [field for field in row._meta.concrete_fields if field.attname in names]
    sets = ", ".join(f'"{field.column}" = %s' for field in fields)
    sql = f'UPDATE "{row._meta.db_table}" SET {sets} WHERE "{key.column}" = %s'  # noqa: S608 - ours
    number = _earlier(row) if row.pk in before[type(row)] else row.pk
    return Written(sql, [[*(_kept(field, row, before) for field in fields), number]])


def _kept(field: models.Field[Any, Any], row: models.Model, before: Mapping[Model, Table]) -> Any:
    value = getattr(row, field.attname)
    if isinstance(field, models.ForeignKey) and value in before[field.related_model]:
        return _earlier(getattr(row, field.name))
    return field.get_db_prep_save(value, connection)


def _earlier(row: models.Model) -> Earlier:
    columns = {field.attname for field in row._meta.concrete_fields}
    column = next((name for name in ("code", "username") if name in columns), "pk")
    return Earlier(type(row), column, getattr(row, column), str(row))


def _found(earlier: Iterable[Earlier]) -> dict[Earlier, int]:
    """Their numbers. A statement a table."""
    values: dict[tuple[Model, str], list[Any]] = {}
    for each in earlier:
        values.setdefault((each.model, each.column), []).append(each.value)
    rows = {
        (model, column): model._default_manager.in_bulk(those, field_name=column)
        for (model, column), those in values.items()
    }
    found = {each: rows[each.model, each.column][each.value] for each in earlier}
    for each, row in found.items():
        assert each.column != "pk" or str(row) == each.words, f"{row} stands for {each.words}"
    return {each: row.pk for each, row in found.items()}


def _asking(model: Model, numbers: Sequence[int]) -> str:
    """Asks whether one of these numbers is taken."""
    table, column = model._meta.db_table, model._meta.pk.column
    among = ", ".join(str(number) for number in numbers)
    return f'EXISTS (SELECT 1 FROM "{table}" WHERE "{column}" IN ({among}))'  # noqa: S608 - ours


def _moving_on(model: Model, numbers: Sequence[int]) -> str:
    """Moves the sequence past these numbers: PostgreSQL does not notice that they are taken."""
    table, column = model._meta.db_table, model._meta.pk.column
    sequence = f"pg_get_serial_sequence('\"{table}\"', '{column}')"
    return f"setval({sequence}, GREATEST(nextval({sequence}), {max(numbers)}))"


def _is_true(condition: str) -> bool:
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT 1 WHERE {condition}")
        return cursor.fetchone() is not None
