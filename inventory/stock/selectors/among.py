"""Many ids or codes as one parameter of a statement: their number meets no limit and no planner.

SQLite takes at most 32,766 parameters, and both databases plan a list of thousands worse than a
subquery. Planners look through a join, but not through these: `IN (SELECT ..)` on SQLite and
`= ANY(ARRAY(SELECT ..))` on PostgreSQL, each made into look-ups in an index.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from django.db import connection
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import BooleanField, F, Field, Func, JSONField
from django.db.models.sql.compiler import SQLCompiler

from shopfloor.prepared import Given

# Each value of the one parameter, as a row with the column `id`.
EACH = {
    "sqlite": "SELECT value AS id FROM json_each(%s)",
    "postgresql": "SELECT unnest(%s::{type}[]) AS id",
}


def each_id(type_of: str = "bigint") -> str:
    """A query for the ids, or codes, in one parameter, which is `parameter(ids)`."""
    return EACH[connection.vendor].format(type=type_of)


def parameter(ids: Iterable[int | str]) -> str | list[int | str]:
    """Ids, or codes, as the one parameter of `each_id`."""
    found = list(ids)
    return json.dumps(found) if connection.vendor == "sqlite" else found


class GivenMany(Given):
    """Stands for ids, or codes, in a prepared query: `Among("pk", GivenMany("ids"))`."""

    def __init__(self, name: str) -> None:
        kind: Field[Any, Any] = JSONField()  # never asked: the parameter has its type in the query
        super().__init__(name, kind)

    def adapted(self, value: Any) -> Any:
        """All of them as one parameter."""
        return parameter(value)


def within(query: str) -> str:
    """The condition, after a column, that it is among the rows of a query of one column."""
    return f"IN ({query})" if connection.vendor == "sqlite" else f"= ANY(ARRAY({query}))"


class Among(Func):
    """A condition for `filter`: the column's value is one of the ids.

    `Lot.objects.filter(Among("pk", ids))`.
    """

    output_field = BooleanField()

    type_of = "bigint"

    def __init__(self, column: str, ids: Iterable[int | str] | GivenMany) -> None:
        super().__init__(F(column))
        self.ids = ids if isinstance(ids, GivenMany) else list(ids)

    def as_sql(
        self, compiler: SQLCompiler, connection: BaseDatabaseWrapper, *_: Any, **__: Any
    ) -> tuple[str, tuple[Any, ...]]:
        """The column, and the ids as one parameter."""
        column, params = compiler.compile(self.source_expressions[0])
        ids = self.ids if isinstance(self.ids, GivenMany) else parameter(self.ids)
        return f"{column} {within(self.among())}", (*params, ids)

    def among(self) -> str:
        """A query for what the column is among, of the ids in one parameter."""
        return each_id(self.type_of)


class AmongCodes(Among):
    """The same of codes."""

    type_of = "text"
