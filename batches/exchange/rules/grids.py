"""What is wrong in sheets, shown in their own grid: rows and columns as in the file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from batches.exchange.rules import SHEETS
from batches.exchange.rules.headings import columns_of
from batches.exchange.rules.reading import tables_in
from batches.exchange.rules.tables import Line, Table, UnreadableError, text_of, without_empty_end
from batches.exchange.rules.writing import Writing, heading_key

_BY_NAME = {sheet.name: sheet for sheet in SHEETS}
_ROW = -1  # the place of what is about a row as a whole


class GridCell(NamedTuple):
    """A cell as it stands in the file, and what is wrong with it."""

    text: str
    wrong: Sequence[str] = ()


class GridRow(NamedTuple):
    """A row by its number in the file; `wrong` is about the row as a whole."""

    number: int
    cells: Sequence[GridCell]
    wrong: Sequence[str] = ()


class Grid(NamedTuple):
    """The header of a sheet, and those of its rows that something is wrong with."""

    label: str
    headings: Sequence[GridCell]
    rows: Sequence[GridRow]


def grids_of(
    files: Mapping[str, bytes], problems: Sequence[Mapping[str, Any]], writing: Writing
) -> list[Grid]:
    """The grids of all sheets that something is wrong within, in the order of their names.

    Args:
        files: Contents by file name.
        problems: As `Problem.facts` has them.
        writing: What is said of how the files are written, kept headings among it.
    """
    return [
        grid
        for name in sorted(files)
        for table in _readable(name, files[name], writing)
        if (grid := _grid(table, problems, writing)).rows or any(c.wrong for c in grid.headings)
    ]


def loose(problems: Sequence[Mapping[str, Any]], grids: Sequence[Grid]) -> list[Mapping[str, Any]]:
    """Problems that no cell and no row of a grid shows."""
    shown = {(grid.label, row.number) for grid in grids for row in grid.rows}
    heads = {(grid.label, text) for grid in grids for each in grid.headings for text in each.wrong}
    return [
        each
        for each in problems
        if (each["file"], each["row"]) not in shown and (each["file"], each["advice"]) not in heads
    ]


def _readable(name: str, data: bytes, writing: Writing) -> list[Table]:
    try:
        return [table for table in tables_in(name, data, writing) if table.lines]
    except UnreadableError:  # that is a problem of the file, and said as such
        return []


def _grid(table: Table, problems: Sequence[Mapping[str, Any]], writing: Writing) -> Grid:
    here = [each for each in problems if each["file"] == table.label and each["row"]]
    first, *body = table.lines
    header = [text_of(cell) for cell in without_empty_end(first.cells)]
    names = _names(table, Line(first.number, header), writing)
    by_place: dict[tuple[int, int], list[str]] = {}
    for each in here:
        # A problem of the header names the heading as what was found.
        is_header = each["row"] == first.number
        place = _place(each["found"] if is_header else each["column"], names, header)
        by_place.setdefault((each["row"], place), []).append(each["advice"])
    headings = [
        GridCell(text, by_place.get((first.number, at), ())) for at, text in enumerate(header)
    ]
    rows = list(_rows(body, {number for number, _ in by_place}, by_place))
    return Grid(table.label, headings, rows)


def _rows(
    body: Sequence[Line], wanted: set[int], by_place: Mapping[tuple[int, int], Sequence[str]]
) -> Iterator[GridRow]:
    for line in body:
        if line.number in wanted:
            cells = [
                GridCell(text_of(cell), by_place.get((line.number, at), ()))
                for at, cell in enumerate(line.cells)
            ]
            yield GridRow(line.number, cells, by_place.get((line.number, _ROW), ()))


def _names(table: Table, header: Line, writing: Writing) -> list[str]:
    """Our names of its columns; a heading that is none of ours has none."""
    sheet = _BY_NAME.get(heading_key(table.name))
    if sheet is None:
        return [""] * len(header.cells)
    columns, _ = columns_of(sheet, table.label, header, writing.headings)
    return ["" if column is None else column.name for column in columns]


def _place(column: str, names: Sequence[str], header: Sequence[str]) -> int:
    if column in names:
        return names.index(column)
    return header.index(column) if column and column in header else _ROW
