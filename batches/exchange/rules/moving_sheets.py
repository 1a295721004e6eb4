"""The sheets of a moved shop: one a table, rows in the order of their numbers.

The files are opened elsewhere; here are lines in and rows out, a few thousand at a time.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any, Final

from batches.exchange.rules.moving_about import FolderRefusedError
from batches.exchange.rules.moving_cells import CellKind
from batches.exchange.rules.problems import Problem

ROWS_AT_ONCE: Final = 5_000
HEADER_ROW: Final = 1

Cells = Sequence[str | None]
"""Of one column; None is a cell that holds nothing."""


@dataclass(frozen=True, slots=True)
class MovingColumn:
    """A column.

    Attributes:
        name: In the header.
        kind: What its cells hold.
        is_optional: An empty cell holds nothing; never so where empty words are a value.
    """

    name: str
    kind: CellKind
    is_optional: bool = False

    def written(self, values: Iterable[Any]) -> list[str]:
        """Its cells."""
        write = self.kind.write
        return ["" if value is None else write(value) for value in values]

    def read(self, cells: Sequence[str]) -> Cells:
        """Its cells, each checked; ValueError at the first that is not as it would be written."""
        check = self.kind.check
        for cell in set(cells):  # most columns say the same again and again
            if cell or not self.is_optional:
                check(cell)
        return [cell or None for cell in cells] if self.is_optional else cells

    def is_wrong(self, cell: str) -> bool:
        """Whether a cell cannot be read."""
        try:
            self.read([cell])
        except ValueError:
            return True
        return False


@dataclass(frozen=True, slots=True)
class MovingSheet:
    """A sheet; its first column is the number by which other sheets point at a row of it."""

    name: str
    columns: Sequence[MovingColumn]

    @property
    def file(self) -> str:
        """The name of its file."""
        return f"{self.name}.csv"

    @property
    def header(self) -> list[str]:
        """Its first row."""
        return [column.name for column in self.columns]

    def problem(self, row: int, advice: str, *, column: str = "", cell: str = "") -> Problem:
        """What is wrong in it, and where; row 0 is the file as a whole."""
        return Problem(self.file, row, column, cell, advice)


def written(sheet: MovingSheet, rows: Sequence[Sequence[Any]]) -> Iterator[tuple[str, ...]]:
    """The cells of some rows."""
    columns = zip(sheet.columns, zip(*rows, strict=True), strict=False)
    return zip(*(column.written(values) for column, values in columns), strict=True)


def read_sheet(sheet: MovingSheet, lines: Iterable[str]) -> Iterator[list[Cells]]:
    """The columns of a sheet, at most `ROWS_AT_ONCE` rows of them at a time.

    Raises:
        FolderRefusedError: at the first cell, row or column that is not as an export writes it.
    """
    csv.field_size_limit(sys.maxsize)  # an answer kept for a repeated request may be long
    reader = csv.reader(lines, strict=True)
    row = HEADER_ROW
    last_number = None
    try:
        _check_header(sheet, next(reader, []))
        while rows := list(islice(reader, ROWS_AT_ONCE)):
            columns = _checked_columns(sheet, rows, row)
            last_number = _checked_order(sheet, columns[0], row, last_number)
            row += len(rows)
            yield columns
    except csv.Error as error:
        advice = f"Line {reader.line_num} is no line of a CSV file ({error})."
        raise FolderRefusedError(sheet.problem(0, advice)) from error
    except UnicodeDecodeError as error:
        advice = f"After line {reader.line_num} comes something that is not UTF-8."
        raise FolderRefusedError(sheet.problem(0, advice)) from error


def _check_header(sheet: MovingSheet, found: list[str]) -> None:
    if found == sheet.header:
        return
    unknown = next((name for name in found if name not in sheet.header), "")
    missing = next((name for name in sheet.header if name not in found), "")
    if unknown:
        advice = "There is no such column."
    elif missing:
        advice = "The column is missing."
    else:
        advice = f"The columns are, in this order: {', '.join(sheet.header)}."
    raise FolderRefusedError(sheet.problem(HEADER_ROW, advice, column=unknown or missing))


def _checked_columns(sheet: MovingSheet, rows: list[list[str]], above: int) -> list[Cells]:
    width = len(sheet.columns)
    for place, row in enumerate(rows, above + 1):
        if len(row) != width:
            advice = f"It has {len(row)} cells, the header has {width}."
            raise FolderRefusedError(sheet.problem(place, advice))
    columns = zip(sheet.columns, zip(*rows, strict=True), strict=True)
    try:
        return [column.read(cells) for column, cells in columns]
    except ValueError:
        raise FolderRefusedError(_wrong_cell(sheet, rows, above)) from None


def _wrong_cell(sheet: MovingSheet, rows: list[list[str]], above: int) -> Problem:
    return next(
        sheet.problem(place, f"It holds {column.kind.words}.", column=column.name, cell=cell)
        for place, row in enumerate(rows, above + 1)
        for column, cell in zip(sheet.columns, row, strict=True)
        if column.is_wrong(cell)
    )


def _checked_order(sheet: MovingSheet, cells: Cells, above: int, last: int | None) -> int | None:
    """Each number is above the one before it, so no number stands twice; answers the last one."""
    for place, cell in enumerate(cells, above + 1):
        number = int(cell or 0)
        if last is not None and number <= last:
            advice = f"Rows stand in the order of this number, each once; above is {last}."
            column = sheet.columns[0].name
            raise FolderRefusedError(sheet.problem(place, advice, column=column, cell=str(number)))
        last = number
    return last
