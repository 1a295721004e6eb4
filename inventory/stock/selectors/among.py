"""Many ids as one parameter of a statement, so that their number meets no limit and no planner.

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
from django.db.models import BooleanField, F, Func
from django.db.models.sql.compiler import SQLCompiler

# Each id of the one parameter, as a row with the column `id`.
EACH_ID = {
    "sqlite": "SELECT value AS id FROM json_each(%s)",
    "postgresql": "SELECT unnest(%s::bigint[]) AS id",
}


def each_id() -> str:
    """A query for the ids in one parameter, which is `parameter(ids)`."""
    return EACH_ID[connection.vendor]


def parameter(ids: Iterable[int]) -> str | list[int]:
    """Ids as the one parameter of `each_id`."""
    found = list(ids)
    return json.dumps(found) if connection.vendor == "sqlite" else found


def within(query: str) -> str:
    """The condition, after a column, that it is among the rows of a query of one column."""
    return f"IN ({query})" if connection.vendor == "sqlite" else f"= ANY(ARRAY({query}))"


class Among(Func):
    """A condition for `filter`: the column's value is one of the ids.

    `Lot.objects.filter(Among("pk", ids))`.
    """

    output_field = BooleanField()

    def __init__(self, column: str, ids: Iterable[int]) -> None:
        super().__init__(F(column))
        self.ids = list(ids)

    def as_sql(
        self, compiler: SQLCompiler, connection: BaseDatabaseWrapper, *_: Any, **__: Any
    ) -> tuple[str, tuple[Any, ...]]:
        """The column, and the ids as one parameter."""
        column, params = compiler.compile(self.source_expressions[0])
        return f"{column} {within(each_id())}", (*params, parameter(self.ids))
