"""Statements of a list that was asked before: their text is made once, their answer every time.

Of a page of a hundred rows, making the statements takes longer than running them. Only for a list
whose filters look at nothing but the query: no clock, no settings, no other rows.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from django.core.exceptions import EmptyResultSet
from django.db import connection
from django.db.models import QuerySet
from django.http import QueryDict

KEPT_MAX: Final = 500
QUERY_LENGTH_MAX: Final = 500
_CUT_AFTERWARDS: Final = frozenset({"page", "page_size", "format"})


class KeptList:
    """What pages are cut of, in place of a queryset of tuples."""

    def __init__(self, found: QuerySet[Any], shown: QuerySet[Any]) -> None:
        """Make both texts.

        Args:
            found: The rows, to be counted.
            shown: The same in order, with their columns.

        Raises:
            EmptyResultSet: no database need be asked.
        """
        sql, self._count_params = found.order_by().values("pk").query.sql_with_params()
        self._count_sql = f"SELECT COUNT(*) FROM ({sql}) numbered"  # noqa: S608 - made by Django
        self._sql, self._params = shown.query.sql_with_params()

    def count(self) -> int:
        """Rows of all pages. One statement."""
        return int(_rows(self._count_sql, self._count_params)[0][0])

    def __getitem__(self, part: slice) -> list[tuple[Any, ...]]:
        """The rows of one page. One statement."""
        bounds = (part.stop - part.start, part.start)
        return _rows(f"{self._sql} LIMIT %s OFFSET %s", (*self._params, *bounds))


def _rows(sql: str, params: tuple[Any, ...]) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        return list(cursor.fetchall())


_kept: dict[tuple[Any, ...], KeptList] = {}


def kept_list(
    listing: object,
    query: QueryDict,
    found: Callable[[], QuerySet[Any]],
    shown: Callable[[QuerySet[Any]], QuerySet[Any]],
) -> KeptList | QuerySet[Any]:
    """The list as it was asked before, else made now.

    Args:
        listing: Which list.
        query: What is asked of it.
        found: Filters and orders it; refuses what cannot be read.
        shown: Takes the columns of what was found.
    """
    asked = tuple(sorted((k, v) for k, v in query.items() if k not in _CUT_AFTERWARDS))
    key = (listing, connection.vendor, asked)
    if (kept := _kept.get(key)) is not None:
        return kept
    rows = found()
    try:
        made = KeptList(rows, shown(rows))
    except EmptyResultSet:
        return shown(rows)
    if len(str(asked)) <= QUERY_LENGTH_MAX:
        if len(_kept) >= KEPT_MAX:
            _kept.clear()  # simple, and seldom: a shop asks the same few questions
        _kept[key] = made
    return made
