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

    def read(self, cells: Sequence[str]) -> list[Any]:
        """Its values; ValueError if a cell is not the one spelling of one."""
        read = self.kind.read
        if self.is_optional:
            values = [read(cell) if cell else None for cell in cells]
        else:
            values = [read(cell) for cell in cells]
        if self.written(values) != list(cells):
            raise ValueError
        return values

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


def read_sheet(sheet: MovingSheet, lines: Iterable[str]) -> Iterator[list[tuple[Any, ...]]]:
    """The rows of a sheet, at most `ROWS_AT_ONCE` at a time.

    Raises:
        FolderRefusedError: at the first cell, row or column that is not as an export writes it.
    """
    csv.field_size_limit(sys.maxsize)  # an answer kept for a repeated request may be long
    reader = csv.reader(lines, strict=True)
    row = HEADER_ROW
    last_number: Any = None
    try:
        _check_header(sheet, next(reader, []))
        while cells := list(islice(reader, ROWS_AT_ONCE)):
            rows = _read_rows(sheet, cells, row)
            last_number = _check_order(sheet, rows, row, last_number)
            row += len(rows)
            yield rows
    except csv.Error as error:
        # The reader stops within a chunk: which row it was is a count of lines away.
        raise FolderRefusedError(
            sheet.problem(0, f"Line {reader.line_num} is no row of a CSV file ({error}).")
        ) from error
    except UnicodeDecodeError as error:
        raise FolderRefusedError(
            sheet.problem(0, f"After line {reader.line_num} stands something that is not UTF-8.")
        ) from error


def _check_header(sheet: MovingSheet, found: list[str]) -> None:
    if found == sheet.header:
        return
    unknown = [name for name in found if name not in sheet.header]
    missing = [name for name in sheet.header if name not in found]
    if unknown:
        advice = f"There is no such column. The columns are: {', '.join(sheet.header)}."
        problem = sheet.problem(HEADER_ROW, advice, column=unknown[0])
    elif missing:
        problem = sheet.problem(HEADER_ROW, "The column is missing.", column=missing[0])
    else:
        problem = sheet.problem(
            HEADER_ROW, f"The columns stand in this order: {', '.join(sheet.header)}."
        )
    raise FolderRefusedError(problem)


def _read_rows(sheet: MovingSheet, cells: list[list[str]], before: int) -> list[tuple[Any, ...]]:
    width = len(sheet.columns)
    if any(len(each) != width for each in cells):
        place, wrong = next((n, each) for n, each in enumerate(cells, 1) if len(each) != width)
        advice = f"It has {len(wrong)} cells, the header has {width}."
        raise FolderRefusedError(sheet.problem(before + place, advice))
    columns = list(zip(*cells, strict=True))
    try:
        values = [
            column.read(its_cells) for column, its_cells in zip(sheet.columns, columns, strict=True)
        ]
    except ValueError:
        raise FolderRefusedError(_wrong_cell(sheet, cells, before)) from None
    return list(zip(*values, strict=True))


def _wrong_cell(sheet: MovingSheet, cells: list[list[str]], before: int) -> Problem:
    return next(
        sheet.problem(
            before + place, f"It holds {column.kind.words}.", column=column.name, cell=cell
        )
        for place, row in enumerate(cells, 1)
        for column, cell in zip(sheet.columns, row, strict=True)
        if column.is_wrong(cell)
    )


def _check_order(
    sheet: MovingSheet, rows: list[tuple[Any, ...]], before: int, last_number: Any
) -> Any:
    """Each number is above the one before it, so no number stands twice; answers the last one."""
    for place, row in enumerate(rows, 1):
        if last_number is not None and row[0] <= last_number:
            raise FolderRefusedError(
                sheet.problem(
                    before + place,
                    f"Rows stand in the order of this number, each once; above is {last_number}.",
                    column=sheet.columns[0].name,
                    cell=str(row[0]),
                )
            )
        last_number = row[0]
    return last_number
