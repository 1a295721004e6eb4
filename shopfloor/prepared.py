"""Queries that are compiled once and asked many times, with other values each time.

Django compiles a query anew whenever it is asked, which takes it longer than the database needs for
the answer. Worth it only for what stands in the way of every entry.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from threading import local
from typing import Any, Final, Generic, NamedTuple, TypeVar, cast

from django.db import connection
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Expression, Field, QuerySet
from django.db.models.base import ModelState
from django.db.models.query import ModelIterable
from django.db.models.sql.compiler import SQLCompiler

from shopfloor.planned import planned_cursor

R = TypeVar("R")

ALIAS: Final = connection.alias


class Given(Expression):
    """Stands for a value of a type in a prepared query, by the name under which it is given."""

    def __init__(self, name: str, kind: Field[Any, Any]) -> None:
        super().__init__(output_field=kind)
        self.name = name

    def as_sql(
        self, compiler: SQLCompiler, connection: BaseDatabaseWrapper
    ) -> tuple[str, tuple[Any, ...]]:
        """One parameter: this, to be replaced by the value."""
        return "%s", (self,)

    def adapted(self, value: Any) -> Any:
        """A value as the driver takes it."""
        return self.output_field.get_db_prep_value(value, connection)


class _Compiled(NamedTuple, Generic[R]):
    sql: str
    params: Sequence[Any]
    is_lock: bool
    of_python: Callable[[list[Any]], list[R]]


class Prepared(Generic[R]):
    """A query of fixed shape.

    Args:
        build: The query, with `Given` where values come in. Called once a thread.
    """

    def __init__(self, build: Callable[[], QuerySet[Any, R]]) -> None:
        self._build = build
        self._here = local()

    def __call__(self, **values: Any) -> list[R]:
        """Ask it: one statement. Answers what `list` of the query would."""
        sql, params, is_lock, of_python = self._compiled()
        assert connection.in_atomic_block or not is_lock, "a lock lasts as long as a transaction"
        given = [
            param.adapted(values[param.name]) if isinstance(param, Given) else param
            for param in params
        ]
        with planned_cursor() as cursor:
            cursor.execute(sql, given)
            return of_python(cursor.fetchall())

    def _compiled(self) -> _Compiled[R]:
        if not hasattr(self._here, "compiled"):
            queryset = self._build()
            compiler = queryset.query.get_compiler(using=ALIAS)
            sql, params = compiler.as_sql()
            is_lock = queryset.query.select_for_update
            of_python = _of_python(queryset, compiler)
            self._here.compiled = _Compiled(sql, params, is_lock, of_python)
        compiled: _Compiled[R] = self._here.compiled
        return compiled


def _of_python(queryset: QuerySet[Any, R], compiler: SQLCompiler) -> Callable[[list[Any]], list[R]]:
    """Makes what the query answers out of the rows of the driver.

    How values become Python's is the same for every row that ever comes, so it is asked once.
    """
    converters = compiler.get_converters([each[0] for each in compiler.select])
    known: Any = _Over(compiler, get_converters=lambda _: converters)
    come: list[list[Any]] = [[]]
    if cast("Any", queryset)._iterable_class is ModelIterable:
        make = _maker(compiler.klass_info, compiler.select)
        extra = tuple((compiler.annotation_col_map or {}).items())

        def objects(rows: list[Any]) -> list[R]:
            found = []
            for row in SQLCompiler.results_iter(known, [rows]):
                found.append(thing := make(row))
                for name, position in extra:
                    setattr(thing, name, row[position])
            return found

        return objects
    answered = _Over(
        known,
        execute_sql=lambda **_: come,
        results_iter=lambda *_, tuple_expected=False, **__: SQLCompiler.results_iter(
            known, come, tuple_expected=tuple_expected
        ),
    )
    query = _Over(queryset.query, get_compiler=lambda *_, **__: answered)
    iterable = cast("Any", queryset)._iterable_class(cast("Any", _Over(queryset, query=query)))

    def of_python(rows: list[Any]) -> list[R]:
        come[0] = rows
        try:
            return [*iterable]
        finally:
            come[0] = []

    return of_python


def _maker(klass_info: Any, select: Any) -> Callable[[Sequence[Any]], Any]:
    """Makes the object of a table out of a row, with those it points at."""
    model = klass_info["model"]
    first, last = klass_info["select_fields"][0], klass_info["select_fields"][-1] + 1
    assert not klass_info.get("from_parent"), "no table of ours inherits another's"
    names = [each[0].target.attname for each in select[first:last]]
    key = first + names.index(model._meta.pk.attname)
    related = [
        (_maker(info, select), info["local_setter"])
        for info in klass_info.get("related_klass_infos", ())
    ]

    def make(row: Sequence[Any]) -> Any:
        if row[key] is None:
            return None
        made = model.__new__(model)
        made.__dict__.update(zip(names, row[first:last], strict=True))
        made._state = state = ModelState()
        state.adding, state.db = False, ALIAS
        for make_other, point in related:
            point(made, make_other(row))
        return made

    return make


class _Over:
    """Another object, but for a few attributes."""

    def __init__(self, under: Any, **attributes: Any) -> None:
        self._under = under
        self.__dict__ |= attributes

    def __getattr__(self, name: str) -> Any:
        return getattr(self._under, name)
