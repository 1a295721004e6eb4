"""From the bytes of a file to rows of read cells, and every problem on the way."""

from __future__ import annotations

import codecs
import csv
import difflib
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from batches.exchange.rules import SHEETS
from batches.exchange.rules.kinds import Clock
from batches.exchange.rules.problems import Problem
from batches.exchange.rules.sheets import Column, Sheet
from shopfloor.errors import InvalidInputError

_UTF16: Final = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_SAVE_AS: Final = "Save the sheet as CSV in UTF-8, with commas."


@dataclass(frozen=True, slots=True)
class Row:
    """One row whose cells were read.

    Attributes:
        sheet: Where it stands.
        number: As a spreadsheet numbers it, the header being 1.
        cells: Values by column; an empty or missing cell is None, a wrong one is left out.
        texts: What stood in the filled cells.
    """

    sheet: Sheet
    number: int
    cells: Mapping[str, Any]
    texts: Mapping[str, str]

    def __getitem__(self, column: str) -> Any:
        return self.cells.get(column)

    def problem(self, column: str, advice: str) -> Problem:
        """A problem with one of its cells, or with the row where the column is empty."""
        return Problem(self.sheet.file, self.number, column, self.texts.get(column, ""), advice)


@dataclass(slots=True)
class Reading:
    """What a set of files came to.

    Attributes:
        rows: By name of the sheet; a sheet without a file has none.
        problems: In no order yet.
    """

    rows: dict[str, list[Row]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def is_whole(self, space: str) -> bool:
        """Whether every code that the sheets give among some others was read."""
        hurt = {(problem.file, problem.column) for problem in self.problems}
        return not any(
            (sheet.file, column) in hurt
            for sheet in SHEETS
            if sheet.space == space
            for column in (sheet.gives, "")
        )


def read_files(files: Mapping[str, bytes], clock: Clock) -> Reading:
    """Read every file.

    Args:
        files: Contents by file name.
        clock: For times and days.
    """
    reading = Reading({sheet.name: [] for sheet in SHEETS})
    sheets = {sheet.file: sheet for sheet in SHEETS}
    for name in sorted(files):
        if name not in sheets:
            advice = f"There is no such sheet.{_meant(name, sheets)}"
            reading.problems.append(Problem(name, 0, "", "", advice))
            continue
        rows, problems = read_sheet(sheets[name], files[name], clock)
        reading.rows[sheets[name].name] = rows
        reading.problems += problems
    return reading


def read_sheet(sheet: Sheet, data: bytes, clock: Clock) -> tuple[list[Row], list[Problem]]:
    """The rows of one file and what is wrong with them, taken by themselves."""
    try:
        lines = list(_lines(_decoded(data)))
    except _UnreadableError as error:
        return [], [Problem(sheet.file, error.row, "", "", str(error))]
    if not lines:
        return [], [Problem(sheet.file, 0, "", "", "The file is empty. It begins with a header.")]
    (_, header), *body = lines
    header = _without_empty_end(header)
    columns, problems = _columns(sheet, header)
    rows: list[Row] = []
    for number, cells in body:
        filled = _without_empty_end(cells)
        if len(filled) <= len(header) < len(cells):
            cells = cells[: len(header)]  # noqa: PLW2901 - spreadsheets write empty cells at the end
        if len(cells) != len(header):
            advice = f"It has {len(cells)} cells, the header has {len(header)}."
            problems.append(Problem(sheet.file, number, "", "", advice))
            continue
        row, found = _row(sheet, number, columns, cells, clock)
        rows.append(row)
        problems += found
    problems += _same_rows(rows)
    return rows, problems


def _without_empty_end(cells: list[str]) -> list[str]:
    count = max((place for place, cell in enumerate(cells, 1) if cell), default=0)
    return cells[:count]


class _UnreadableError(Exception):
    """The file cannot be read from this row on."""

    def __init__(self, row: int, advice: str) -> None:
        super().__init__(advice)
        self.row = row


def _decoded(data: bytes) -> str:
    if data.startswith(_UTF16):
        raise _UnreadableError(0, f"It is written in UTF-16. {_SAVE_AS}")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = data.count(b"\n", 0, error.start) + 1
        byte = data[error.start]
        raise _UnreadableError(
            row, f"The byte {byte:#04x} is not UTF-8, so a letter is not what it was. {_SAVE_AS}"
        ) from error


def _lines(text: str) -> Iterator[tuple[int, list[str]]]:
    """Filled rows with their numbers, cells trimmed."""
    number = 0
    try:
        for number, cells in enumerate(csv.reader(io.StringIO(text, newline=""), strict=True), 1):
            trimmed = [cell.strip() for cell in cells]
            if any(trimmed):
                yield number, trimmed
    except csv.Error as error:
        raise _UnreadableError(
            number + 1,
            f"The quotation marks do not match from here on ({error}). Inside a quoted cell write "
            'a quotation mark twice: "".',
        ) from error


def _columns(sheet: Sheet, header: Sequence[str]) -> tuple[list[Column | None], list[Problem]]:
    """The column of each cell; None where the header says nothing that is known."""
    if len(header) == 1 and ";" in header[0]:
        advice = f"The cells are parted by semicolons. {_SAVE_AS}"
        return [None], [Problem(sheet.file, 1, "", header[0], advice)]
    known = {column.name: column for column in sheet.columns}
    names = [name.lower() for name in header]
    problems = []
    for place, name in enumerate(names):
        if name not in known:
            advice = f"The sheet has no such column.{_meant(name, known)}"
            if not name:
                advice = f"Column {place + 1} has no name. Name it or take it out."
            problems.append(Problem(sheet.file, 1, "", header[place], advice))
        elif name in names[:place]:
            advice = "The column stands twice."
            problems.append(Problem(sheet.file, 1, "", header[place], advice))
    missing = [column.name for column in sheet.columns if column.required]
    problems += [
        Problem(sheet.file, 1, "", "", f"The column {name} is missing; it must be there.")
        for name in missing
        if name not in names
    ]
    return [known.get(name) for name in names], problems


def _row(
    sheet: Sheet,
    number: int,
    columns: Sequence[Column | None],
    cells: Sequence[str],
    clock: Clock,
) -> tuple[Row, list[Problem]]:
    values: dict[str, Any] = {}
    texts: dict[str, str] = {}
    problems: list[Problem] = []
    for column, cell in zip(columns, cells, strict=True):
        if column is None:
            continue
        if not cell:
            if column.required:
                advice = "The cell is empty; it must be filled."
                problems.append(Problem(sheet.file, number, column.name, "", advice))
            continue
        texts[column.name] = cell
        try:
            values[column.name] = column.kind.read(cell, clock)
        except InvalidInputError as error:
            problems.append(Problem(sheet.file, number, column.name, cell, error.detail))
    return Row(sheet, number, values, texts), problems


def _same_rows(rows: Sequence[Row]) -> Iterator[Problem]:
    """Rows that say again what another said: the same key, or without one the same in all."""
    seen: dict[tuple[object, ...], int] = {}
    for row in rows:
        key = [row.cells.get(name) for name in row.sheet.key]
        has_key = any(value is not None for value in key)
        content = tuple(key) if has_key else tuple(sorted(row.texts.items()))
        first = seen.setdefault((has_key, content), row.number)
        if first != row.number and has_key:
            names = " and ".join(row.sheet.key)
            yield row.problem(row.sheet.key[0], f"Row {first} has the same {names}.")
        elif first != row.number:
            yield row.problem("", f"It is the same as row {first}. Leave one out.")


def _meant(name: str, known: Mapping[str, object]) -> str:
    close = difflib.get_close_matches(name.lower(), known, n=1)
    return f" Did you mean {close[0]}?" if close else f" There are: {', '.join(known)}."
