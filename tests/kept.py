"""A set-up that operations make once; the next tests get the same rows put back, in bulk.

A test's shop is made as a shop makes it. But a thousand tests begin with the same shop, and to make
it again for each of them took half of all their time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

from django.apps import apps
from django.db import connection, models
from django.db.models import Max

FLOORS: Final = ("shopfloor", "inventory", "batches")
Model = type[models.Model]


class Own(NamedTuple):
    """Points at a row of the set-up, by its place among the rows of its table."""

    place: int


class Named(NamedTuple):
    """Points at a row that stood before, by what it is called."""

    column: str
    name: str


class Rows(NamedTuple):
    """The rows that a set-up wrote into a table, in the order of their numbers."""

    model: Model
    columns: Sequence[str]
    values: Sequence[Sequence[Any]]


class Kept:
    """A set-up.

    Args:
        make: Writes rows, by operations; it changes none that stood before.
        first: Columns that hold something else until all rows stand: a released bill is frozen.
    """

    def __init__(
        self, make: Callable[..., None], *, first: Mapping[Model, Mapping[str, Any]] | None = None
    ) -> None:
        self._make, self._first = make, first or {}
        self._tables: list[Rows] | None = None

    def __call__(self, **given: Any) -> None:
        """Make it, or put it back."""
        if self._tables is not None:
            self._put_back()
            return
        before = {model: _last(model) for model in _models()}
        self._make(**given)
        self._tables = list(_written(before))

    def _put_back(self) -> None:
        assert self._tables is not None
        made: dict[Model, list[Any]] = {}
        names: dict[tuple[Model, Named], int] = {}
        for rows in self._tables:
            numbers = _next_numbers(rows.model, len(rows.values))
            found = made.setdefault(rows.model, [])
            targets = {each.attname: each.related_model for each in _references(rows.model)}
            for number, values in zip(numbers, rows.values, strict=True):
                row = rows.model(pk=number)
                found.append(row)
                for column, value in zip(rows.columns, values, strict=True):
                    setattr(row, column, _number(targets.get(column), value, made, names))
            first = self._first.get(rows.model, {})
            last = [{name: getattr(row, name) for name in first} for row in found]
            for row in found:
                vars(row).update(first)
            rows.model._default_manager.bulk_create(found)
            for row, values_then in zip(found, last, strict=True):
                vars(row).update(values_then)
        for model, first in self._first.items():
            model._default_manager.bulk_update(made.get(model, []), list(first))


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


def _last(model: Model) -> int:
    return model._default_manager.aggregate(last=Max("pk"))["last"] or 0


def _written(before: Mapping[Model, int]) -> Iterator[Rows]:
    places: dict[Any, dict[int, int]] = {}
    for model, last in before.items():
        rows = list(model._default_manager.filter(pk__gt=last).order_by("pk"))
        places[model] = {row.pk: place for place, row in enumerate(rows)}
        fields = [field for field in model._meta.concrete_fields if not field.primary_key]
        if rows:
            yield Rows(
                model,
                [field.attname for field in fields],
                [[_kept(field, row, places) for field in fields] for row in rows],
            )


def _kept(field: models.Field[Any, Any], row: Any, places: Mapping[Any, Mapping[int, int]]) -> Any:
    value = getattr(row, field.attname)
    if value is None or not isinstance(field, models.ForeignKey):
        return value
    place = places[field.related_model].get(value)
    if place is not None:
        return Own(place)
    target = getattr(row, field.name)
    column = "code" if hasattr(target, "code") else "username"
    return Named(column, getattr(target, column))


def _number(
    target: Any,
    value: Any,
    made: Mapping[Model, Sequence[Any]],
    names: dict[tuple[Model, Named], int],
) -> Any:
    """The value to write; `target` is what the column points at, if it points."""
    if isinstance(value, Own):
        return made[target][value.place].pk
    if not isinstance(value, Named):
        return value
    if (target, value) not in names:
        names[target, value] = target._default_manager.get(**{value.column: value.name}).pk
    return names[target, value]


def _next_numbers(model: Model, count: int) -> list[int]:
    if connection.vendor == "postgresql":
        sql = "SELECT nextval(pg_get_serial_sequence(%s, 'id')) FROM generate_series(1, %s)"
        with connection.cursor() as cursor:
            cursor.execute(sql, [model._meta.db_table, count])
            return [number for (number,) in cursor.fetchall()]
    last = _last(model)
    return list(range(last + 1, last + count + 1))
