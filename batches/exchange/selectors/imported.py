"""Reads of what was imported, and of what headings of the shop's own stand for."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Final

from django.db.models import Q, QuerySet

from batches.exchange.models import Import, ImportedSheet, SheetHeading
from batches.exchange.rules.problems import Problem
from batches.exchange.rules.reading import Source
from shopfloor.days import shop_zone
from shopfloor.errors import NotFoundError

NUMBER_MAX: Final = 2**63 - 1


def imports() -> QuerySet[Import]:
    """Every import with who did it and its sheets. Two queries."""
    return Import.objects.select_related("by").prefetch_related("sheets")


def import_numbered(number: int) -> Import:
    """One import. Two queries.

    Raises:
        NotFoundError: no such import.
    """
    found = imports().filter(pk=number).first() if number <= NUMBER_MAX else None
    if found is None:
        raise NotFoundError("There is no import of this number.", number=number)
    return found


def headings() -> QuerySet[SheetHeading]:
    """What every heading stands for, with who said so. One query."""
    return SheetHeading.objects.select_related("kept_by")


def kept_headings() -> dict[tuple[str, str], str]:
    """Columns by sheet and heading, as `Writing.headings` has them. One query."""
    rows = SheetHeading.objects.values_list("sheet", "heading", "column")
    return {(sheet, heading): column for sheet, heading, column in rows}


def imported_before(sources: Collection[Source]) -> Iterator[Problem]:
    """Sheets whose file, or whose rows in another writing, were imported. One query."""
    filled = [source for source in sources if source.rows]
    same_file = Q(sha256__in={source.digest for source in filled})
    same_rows = Q(rows_sha256__in={source.rows_digest for source in filled})
    found = list(
        ImportedSheet.objects.filter(same_file | same_rows, rows__gt=0).select_related("source__by")
    )
    for source in filled:
        for before in found:
            is_file = (before.sha256, before.sheet) == (source.digest, source.sheet)
            if is_file or before.rows_sha256 == source.rows_digest:
                yield Problem(source.label, 0, "", "", _words(before, is_file=is_file))
                break


def _words(before: ImportedSheet, *, is_file: bool) -> str:
    at = before.source.at.astimezone(shop_zone()).strftime("%Y-%m-%d %H:%M")
    what = "This file was" if is_file else f"The same rows, as {before.file}, were"
    return (
        f"{what} imported on {at} by {before.source.by.username}, import {before.source_id}. An "
        "import only adds, so nothing in it is new. Leave it out."
    )
