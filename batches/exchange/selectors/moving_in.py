"""Whether a folder holds a whole shop that this one can become. Writes nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.db import connection, models

from batches.exchange.rules.moving_about import (
    ABOUT_FILE,
    UPLOADS,
    About,
    Digest,
    FolderRefusedError,
    read_about,
)
from batches.exchange.rules.moving_sheets import HEADER_ROW
from batches.exchange.rules.problems import Problem
from batches.exchange.selectors.moving import (
    MovingTable,
    files_below,
    migrations_applied,
    sha256_of,
)

_MOST_NAMED: Final = 5  # tables that stand
_EXPORT_AGAIN: Final = "Export the shop again, and change nothing in the folder."
_START_EMPTY: Final = (
    "A whole shop goes into a database that nobody has used: name another one with DATABASE_URL, "
    "or a new folder with SHOP_DATA_DIR, run `python3 manage.py migrate` and this again; "
    "`start` comes after."
)


def is_moved_shop(folder: Path) -> bool:
    """Whether a folder holds a whole shop rather than sheets that people wrote."""
    return (folder / ABOUT_FILE).is_file()


def about_folder(folder: Path) -> About:
    """What the folder says of itself.

    Raises:
        FolderRefusedError: it is not what an export wrote.
    """
    try:
        return read_about((folder / ABOUT_FILE).read_text(encoding="utf-8"))
    except ValueError as error:  # also what is not UTF-8
        raise FolderRefusedError(Problem(ABOUT_FILE, 0, "", "", str(error))) from error


def problems_between(about: About) -> Iterator[str]:
    """Why this shop cannot become that one: other tables, money or days. One query."""
    if list(about.migrations) != (here := migrations_applied()):
        newer = sorted(set(about.migrations) - set(here))
        older = sorted(set(here) - set(about.migrations))
        yield (
            "The tables here are not those of the shop in the folder. "
            f"Only there: {', '.join(newer) or 'nothing'}. "
            f"Only here: {', '.join(older) or 'nothing'}. Import it with the version of the "
            "program that made it, and bring that up to date afterwards."
        )
    if about.currency != settings.SHOP_CURRENCY:
        yield f"Its values are in {about.currency}: set SHOP_CURRENCY={about.currency}."
    if about.time_zone != settings.SHOP_TIME_ZONE:
        yield f"Its days are those of {about.time_zone}: set SHOP_TIME_ZONE={about.time_zone}."
    if settings.SHOP_IS_DEMO and not about.is_demo:
        yield (
            f"The data folder {settings.SHOP_DATA_DIR} is that of the demo: name another one with "
            "SHOP_DATA_DIR."
        )


def problems_of_files(
    about: About, tables: Sequence[MovingTable], folder: Path
) -> Iterator[Problem]:
    """Files that are missing, too many, or not what was exported. No query."""
    files = {table.sheet.file for table in tables}
    for name in sorted(files ^ set(about.sheets)):
        yield Problem(ABOUT_FILE, 0, "", name, f"Not the sheets of this program. {_EXPORT_AGAIN}")
    sheets = {path.name: path for path in folder.glob("*.csv")}
    yield from _differing(about.sheets, sheets, "")
    yield from _differing(about.uploads, files_below(folder / UPLOADS), f"{UPLOADS}/")


def problem_of_standing(tables: Sequence[MovingTable]) -> str | None:
    """What stands in this shop already. A query a table."""
    found = [table.sheet.name.replace("_", " ") for table in tables if _has_rows(table)]
    if found:
        named = ", ".join(found[:_MOST_NAMED])
        more = f" and {len(found) - _MOST_NAMED} more" if len(found) > _MOST_NAMED else ""
        return f"There is something here already: {named}{more}. {_START_EMPTY}"
    if files_below(Path(settings.MEDIA_ROOT)):
        return f"There are uploads in {settings.MEDIA_ROOT} already. {_START_EMPTY}"
    return None


def dangling(tables: Sequence[MovingTable]) -> Problem | None:
    """A row that points at none. A query a reference, and one to find its row.

    Rows stand in their sheet in the order of their numbers.
    """
    by_model = {table.model: table for table in tables}
    for table, field in [(each, field) for each in tables for field in each.references]:
        target = by_model[field.related_model]
        found = _dangling(table, field, target)
        if found is not None:
            number, points_at = found
            row = HEADER_ROW + table.model._default_manager.filter(pk__lte=number).count()
            advice = f"There is no such row in {target.sheet.file}."
            return table.sheet.problem(row, advice, column=field.name, cell=str(points_at))
    return None


def _differing(
    wanted: Mapping[str, Digest], found: Mapping[str, Path], folder: str
) -> Iterator[Problem]:
    for name in sorted(wanted.keys() - found.keys()):
        yield Problem(f"{folder}{name}", 0, "", "", f"The file is missing. {_EXPORT_AGAIN}")
    for name in sorted(found.keys() - wanted.keys()):
        yield Problem(f"{folder}{name}", 0, "", "", f"{ABOUT_FILE} has no such file.")
    for name in sorted(found.keys() & wanted.keys()):
        if sha256_of(found[name]) != wanted[name].sha256:
            advice = f"It is not the file that was exported (SHA-256). {_EXPORT_AGAIN}"
            yield Problem(f"{folder}{name}", 0, "", "", advice)


def _has_rows(table: MovingTable) -> bool:
    return table.model._default_manager.order_by().exists()


def _dangling(
    table: MovingTable, field: models.ForeignKey[Any, Any], target: MovingTable
) -> tuple[int, int] | None:
    here, key = table.column(field), target.column(target.fields[0])
    number = table.column(table.fields[0])
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT a.{number}, a.{here} FROM {table.name} a"  # noqa: S608 - our own names
            f" WHERE a.{here} IS NOT NULL"
            f" AND NOT EXISTS (SELECT 1 FROM {target.name} b WHERE b.{key} = a.{here})"
            f" ORDER BY 1 LIMIT 1"
        )
        row = cursor.fetchone()
    return None if row is None else (int(row[0]), int(row[1]))
