"""Statements of a list that was asked before: their text is made once, their answer every time.

Of a page of a hundred rows, making the statements takes longer than running them. Codes go into a
statement as they come: it is the same for every item. Only for a list whose filters look at nothing
but the query: no clock, no settings, no other rows.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from django.core.exceptions import EmptyResultSet
from django.db import connection
from django.db.models import QuerySet
from django.http import QueryDict

from shopfloor.code_filter import AskedCode
from shopfloor.planned import planned_cursor

KEPT_MAX: Final = 500
QUERY_LENGTH_MAX: Final = 500
_CUT_AFTERWARDS: Final = frozenset({"page", "page_size", "format"})


class _Statements:
    """What counts the rows and what reads them."""

    def __init__(self, found: QuerySet[Any], shown: QuerySet[Any]) -> None:
        """Make both texts.

        Args:
            found: The rows, to be counted.
            shown: The same in order, with their columns.

        Raises:
            EmptyResultSet: no database need be asked.
        """
        sql, self.count_params = found.order_by().values("pk").query.sql_with_params()
        self.count_sql = f"SELECT COUNT(*) FROM ({sql}) numbered"  # noqa: S608 - made by Django
        self.sql, self.params = shown.query.sql_with_params()

    def paths(self) -> set[str]:
        """Of the codes that both ask for."""
        counted, read = (
            {each.path for each in params if isinstance(each, AskedCode)}
            for params in (self.count_params, self.params)
        )
        assert counted == read
        return read


class KeptList:
    """What pages are cut of, in place of a queryset of tuples."""

    def __init__(self, statements: _Statements, codes: Mapping[str, AskedCode]) -> None:
        """Of the codes of this query, by path."""
        self._statements, self._codes = statements, codes

    def count(self) -> int:
        """Rows of all pages. One statement."""
        kept = self._statements
        return int(self._rows(kept.count_sql, kept.count_params)[0][0])

    def __getitem__(self, part: slice) -> list[tuple[Any, ...]]:
        """The rows of one page. One statement."""
        bounds = (part.stop - part.start, part.start)
        kept = self._statements
        return self._rows(f"{kept.sql} LIMIT %s OFFSET %s", (*kept.params, *bounds))

    def _rows(self, sql: str, params: Sequence[Any]) -> list[tuple[Any, ...]]:
        asked = [self._codes[each.path] if isinstance(each, AskedCode) else each for each in params]
        with planned_cursor() as cursor:
            cursor.execute(sql, asked)
            return list(cursor.fetchall())


_kept: dict[tuple[Any, ...], _Statements] = {}


def kept_list(
    listing: object,
    query: QueryDict,
    found: Callable[[], QuerySet[Any]],
    shown: Callable[[QuerySet[Any]], QuerySet[Any]],
    codes: Mapping[str, AskedCode],
) -> KeptList | QuerySet[Any]:
    """The list by the statements of one that was asked before, else by statements made now.

    Args:
        listing: Which list.
        query: What is asked of it.
        found: Filters and orders it; refuses what cannot be read.
        shown: Takes the columns of what was found.
        codes: Of the query, by parameter: from `asked_codes`.
    """
    asked = tuple(
        sorted(
            (name, "" if name in codes else value)
            for name, value in query.items()
            if name not in _CUT_AFTERWARDS
        )
    )
    key = (listing, connection.vendor, asked, frozenset(codes))
    by_path = {code.path: code for code in codes.values()}
    if (kept := _kept.get(key)) is not None:
        return KeptList(kept, by_path)
    rows = found()
    try:
        made = _Statements(rows, shown(rows))
    except EmptyResultSet:
        return shown(rows)
    assert made.paths() == by_path.keys()
    if len(str(asked)) <= QUERY_LENGTH_MAX:
        if len(_kept) >= KEPT_MAX:
            _kept.clear()  # simple, and seldom: a shop asks the same few questions
        _kept[key] = made
    return KeptList(made, by_path)
