"""From the bytes of files to rows of read cells, and every problem on the way."""

from __future__ import annotations

import difflib
import hashlib
import json
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, NamedTuple

from batches.exchange.rules import SHEETS
from batches.exchange.rules.containers import is_workbook
from batches.exchange.rules.dialects import parted
from batches.exchange.rules.encodings import decoded
from batches.exchange.rules.headings import columns_of, explanation, header_below
from batches.exchange.rules.kinds import Clock
from batches.exchange.rules.plain import plain_cells
from batches.exchange.rules.problems import Problem
from batches.exchange.rules.sheets import Column, Sheet
from batches.exchange.rules.tables import (
    Cell,
    Line,
    Table,
    UnreadableError,
    text_of,
    without_empty_end,
)
from batches.exchange.rules.workbooks import workbook_tables
from batches.exchange.rules.writing import AS_OURS, Writing, heading_key
from shopfloor.errors import InvalidInputError

_BY_NAME: Final = {sheet.name: sheet for sheet in SHEETS}


@dataclass(frozen=True, slots=True)
class Row:
    """One row whose cells were read.

    Attributes:
        sheet: What it is a row of.
        number: As a spreadsheet numbers it, the header being 1.
        cells: Values by column; an empty or missing cell is None, a wrong one is left out.
        texts: What stood in the filled cells.
        label: What a person finds the sheet by.
    """

    sheet: Sheet
    number: int
    cells: dict[str, Any]
    texts: Mapping[str, str]
    label: str

    def __getitem__(self, column: str) -> Any:
        return self.cells.get(column)

    def problem(self, column: str, advice: str) -> Problem:
        """A problem with one of its cells, or with the row where the column is empty."""
        return Problem(self.label, self.number, column, self.texts.get(column, ""), advice)


class Source(NamedTuple):
    """Where the rows of a sheet came from, and how they were read.

    Attributes:
        sheet: Its name.
        label: What a person finds it by.
        size: Bytes of the file.
        digest: SHA-256 of the file.
        rows: How many.
        rows_digest: SHA-256 of what the rows say, however they are written.
        how: How they were read, in words.
    """

    sheet: str
    label: str
    size: int
    digest: str
    rows: int
    rows_digest: str
    how: str


@dataclass(slots=True)
class Reading:
    """What a set of files came to.

    Attributes:
        rows: By name of the sheet; a sheet without a file has none.
        sources: A line a sheet that came.
        problems: In no order yet.
        unread: Names of sheets of which rows are missing.
        headings: What headings stood for that are none of ours, by sheet and `heading_key`.
    """

    rows: dict[str, list[Row]] = field(default_factory=lambda: {sheet.name: [] for sheet in SHEETS})
    sources: list[Source] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    unread: set[str] = field(default_factory=set)
    headings: dict[tuple[str, str], str] = field(default_factory=dict)

    def is_whole(self, space: str) -> bool:
        """Whether every code that the sheets give among some others was read."""
        labels = {source.sheet: source.label for source in self.sources}
        hurt = {(problem.file, problem.column) for problem in self.problems}
        return not any(
            sheet.name in self.unread or (labels.get(sheet.name), sheet.gives) in hurt
            for sheet in SHEETS
            if sheet.space == space
        )


def labels_in_order(sources: Iterable[Source]) -> list[str]:
    """What people find the sheets by, in the order of the sheets."""
    found = {source.sheet: source.label for source in sources}
    return [found[sheet.name] for sheet in SHEETS if sheet.name in found]


class _SheetRead(NamedTuple):
    """The rows of one sheet, and what is wrong with them taken by themselves."""

    rows: list[Row]
    problems: list[Problem]
    how: str = ""
    is_whole: bool = False
    digest: str = ""


def read_files(files: Mapping[str, bytes], clock: Clock, writing: Writing = AS_OURS) -> Reading:
    """Read every file.

    Args:
        files: Contents by file name.
        clock: For times and days.
        writing: What somebody says of how they are written.
    """
    reading = Reading()
    for name in sorted(files):
        data = files[name]
        try:
            for table in tables_in(name, data, writing):
                _read_table(reading, table, data, clock, writing)
        except UnreadableError as error:
            reading.problems.append(Problem(name, error.row, "", "", str(error)))
            # A workbook may have held any of them.
            key = heading_key(name.rpartition(".")[0])
            reading.unread |= {key} if key in _BY_NAME else set(_BY_NAME)
    return reading


def tables_in(name: str, data: bytes, writing: Writing) -> list[Table]:
    """The sheets of a file as they came.

    Raises:
        UnreadableError: it cannot be read at all.
    """
    if is_workbook(data):
        return workbook_tables(name, data)
    sheet = _BY_NAME.get(heading_key(name.rpartition(".")[0]))
    headings = {column.name for column in sheet.columns} if sheet else set()
    headings |= {heading for of, heading in writing.headings if sheet and of == sheet.name}
    text, encoding = decoded(data, writing.encoding)
    lines, parting = parted(text, headings)
    if not lines:
        raise UnreadableError("The file is empty. It begins with a header.")
    return [Table(name, lines=lines, how=[encoding, parting])]


def _read_table(
    reading: Reading, table: Table, data: bytes, clock: Clock, writing: Writing
) -> None:
    sheet = _BY_NAME.get(heading_key(table.name))
    if sheet is None:
        advice = f"There is no such sheet.{_meant(table.name)}"
        reading.problems.append(Problem(table.label, 0, "", "", advice))
        return
    first = next((each for each in reading.sources if each.sheet == sheet.name), None)
    if first is not None:
        advice = f"The sheet {sheet.name} came already: {first.label}. Leave one out."
        reading.problems.append(Problem(table.label, 0, "", "", advice))
        return
    read = read_sheet(sheet, table, clock, writing)
    header = table.lines[0].cells if table.lines else ()
    keys = {(sheet.name, heading_key(text_of(cell))) for cell in header}
    reading.headings |= {
        key: writing.headings[key]
        for key in keys & writing.headings.keys()
        if not sheet.has_column(key[1])
    }
    reading.rows[sheet.name] = read.rows
    reading.problems += read.problems
    if not read.is_whole:
        reading.unread.add(sheet.name)
    reading.sources.append(
        Source(
            sheet=sheet.name,
            label=table.label,
            size=len(data),
            digest=hashlib.sha256(data).hexdigest(),
            rows=len(read.rows),
            rows_digest=read.digest,
            how=read.how,
        )
    )


def read_sheet(sheet: Sheet, table: Table, clock: Clock, writing: Writing) -> _SheetRead:
    """The rows of one sheet and what is wrong with them, taken by themselves."""
    label = table.label
    problems = [Problem(label, row, "", found, advice) for row, found, advice in table.troubles]
    if problems:
        return _SheetRead([], problems)
    if below := header_below(sheet, table.lines, writing.headings):
        advice = f"The header seems to stand in row {below}. Take out the rows above it."
        return _SheetRead([], [Problem(label, table.lines[0].number, "", "", advice)])
    first, *body = table.lines
    header = Line(first.number, without_empty_end(first.cells))
    columns, found = columns_of(sheet, label, header, writing.headings)
    lines, uneven = _even(body, len(header.cells))
    problems = found + [Problem(label, number, "", "", advice) for number, advice in uneven]
    lines = [line for line in lines if not _explains(line, columns)]
    plain = plain_cells(lines, columns, writing)
    problems += [Problem(label, *trouble) for trouble in plain.troubles]
    is_whole = not problems
    present = [column for column in columns if column is not None]
    wrong = {(row, column) for row, column, _, _ in plain.troubles}
    rows: list[Row] = []
    digest = hashlib.sha256(sheet.name.encode())
    for line, cells in zip(lines, plain.rows, strict=False):  # no rows: nothing can be told of them
        texts, said = _named(line.cells, columns), _named(cells, columns)
        row = Row(sheet, line.number, {}, texts, label)
        problems += _read_cells(row, said, present, clock, wrong)
        rows.append(row)
        digest.update(json.dumps(sorted(said.items())).encode())
    problems += _same_rows(rows)
    how = ", ".join([*table.how, *plain.how])
    return _SheetRead(rows, problems, how, is_whole=is_whole, digest=digest.hexdigest())


def _even(lines: Sequence[Line], width: int) -> tuple[list[Line], list[tuple[int, str]]]:
    """Rows as long as the header; and the numbers of those that are not, with advice."""
    even, uneven = [], []
    for number, cells in lines:
        if len(without_empty_end(cells)) > width or len(cells) < width:
            uneven.append((number, f"It has {len(cells)} cells, the header has {width}."))
        else:
            even.append(Line(number, cells[:width]))
    return even, uneven


def _explains(line: Line, columns: Sequence[Column | None]) -> bool:
    """Whether it is the row of a template that says how to fill the others."""
    filled = [(cell, column) for cell, column in zip(line.cells, columns, strict=True) if cell]
    return all(column is not None and cell == explanation(column) for cell, column in filled)


def _named(cells: Iterable[Cell], columns: Sequence[Column | None]) -> dict[str, str]:
    """The filled cells by their column."""
    return {
        column.name: text_of(cell)
        for cell, column in zip(cells, columns, strict=True)
        if cell and column is not None
    }


def _read_cells(
    row: Row,
    said: Mapping[str, str],
    columns: Iterable[Column],
    clock: Clock,
    wrong: Collection[tuple[int, str]],
) -> Iterator[Problem]:
    """Fill in the values; what is known to be wrong is not judged again."""
    for column in columns:
        if (row.number, column.name) in wrong:
            continue
        cell = said.get(column.name, "")
        if not cell:
            if column.required:
                yield row.problem(column.name, "The cell is empty; it must be filled.")
            continue
        try:
            row.cells[column.name] = column.kind.read(cell, clock)
        except InvalidInputError as error:
            yield row.problem(column.name, error.detail)


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


def _meant(name: str) -> str:
    close = difflib.get_close_matches(heading_key(name), _BY_NAME, n=1)
    named = ", ".join(sheet.file for sheet in SHEETS)
    return f" Did you mean {close[0]}.csv?" if close else f" There are: {named}."
