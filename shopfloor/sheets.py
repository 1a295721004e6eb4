"""Rows as a sheet that spreadsheets open: CSV or XLSX. Never a formula, whatever a cell says."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import IO, Any, Final, NamedTuple

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font

from shopfloor.errors import InvalidInputError

Cell = str | int | Decimal | bool | date | None
"""A text, a number, yes or no, a day, or nothing. A moment is a text."""

# Where one of these begins a cell, a spreadsheet may take the rest for a formula. Source: OWASP,
# "CSV Injection" (from memory): = + - @ tab, CR, LF, and the full-width forms of the first four.
FORMULA_SIGNS: Final = (
    "=",
    "+",
    "-",
    "@",
    "\t",
    "\r",
    "\n",
    "\uff1d",
    "\uff0b",
    "\uff0d",
    "\uff20",
)


XLSX_ROWS_MAX: Final = 1_048_576
"""Rows of an XLSX sheet, the head among them. Source: ECMA-376."""

XLSX_TEXT_MAX: Final = 32_767
"""Characters of an XLSX cell; common practice, no source."""

_DIGITS_MAX: Final = 15  # what a binary64 number keeps of any decimal one

# What XML cannot hold, and what a reader would take for an escape (ECMA-376 part 1, 22.9.2.19), as
# which a carriage return is written: XML itself would make a line feed of it.
_UNFIT: Final = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_ESCAPE_LIKE: Final = re.compile("_(?=x[0-9A-Fa-f]{4}_)")


class SheetTooLargeError(InvalidInputError):
    """More than a sheet of this kind can hold."""

    code = "sheet_too_large"


class SheetKind(NamedTuple):
    """A kind of sheet, and how head and rows are written into a binary file."""

    name: str
    media_type: str
    write: Callable[[IO[bytes], Sequence[str], Iterable[Sequence[Cell]]], None]


def write_csv(file: IO[bytes], head: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """RFC 4180, in UTF-8 that says so by its first three bytes: else spreadsheets guess."""
    text = io.TextIOWrapper(file, encoding="utf-8-sig", newline="")
    lines = csv.writer(text)
    lines.writerow(head)
    lines.writerows([_csv_cell(cell) for cell in row] for row in rows)
    text.detach()  # writes what is left, and leaves the file open


def _csv_cell(cell: Cell) -> object:
    if isinstance(cell, str):
        return f"'{cell}" if cell.startswith(FORMULA_SIGNS) else cell
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, Decimal):
        return f"{cell:f}"
    return cell  # whole numbers and days as they are written; nothing is an empty cell


def write_xlsx(
    file: IO[bytes],
    head: Sequence[str],
    rows: Iterable[Sequence[Cell]],
    *,
    rows_max: int = XLSX_ROWS_MAX,
) -> None:
    """Numbers that a spreadsheet keeps exactly are numbers, others text; days are days.

    Raises:
        SheetTooLargeError: more rows, or a longer text, than an XLSX sheet has room for.
    """
    book = Workbook(write_only=True)  # a row at a time, by a file of its own
    sheet = book.create_sheet("rows")
    sheet.freeze_panes = "A2"
    names = [_text(sheet, name) for name in head]
    for name in names:
        name.font = Font(bold=True)
    sheet.append(names)
    try:
        for number, row in enumerate(rows, start=2):
            if number > rows_max:
                raise _no_room(f"{rows_max - 1:,} rows")
            sheet.append([_xlsx_cell(sheet, cell) for cell in row])
    except BaseException:
        sheet.close()
        raise
    book.save(file)


def _xlsx_cell(sheet: Any, cell: Cell) -> Any:
    if isinstance(cell, str):
        return _text(sheet, cell) if cell else None
    if isinstance(cell, int | Decimal) and not isinstance(cell, bool):
        number = Decimal(cell)
        is_kept = len(number.as_tuple().digits) <= _DIGITS_MAX
        return cell if is_kept else _text(sheet, f"{number:f}")
    return cell


def _text(sheet: Any, text: str) -> Any:
    """A cell that stays text, whatever it looks like."""
    if len(text) > XLSX_TEXT_MAX:
        raise _no_room(f"{XLSX_TEXT_MAX:,} characters in a cell")
    fit = _ESCAPE_LIKE.sub("_x005F_", _UNFIT.sub("\ufffd", text)).replace("\r", "_x000D_")
    cell = WriteOnlyCell(sheet, value=fit)
    cell.data_type = "s"
    return cell


def _no_room(room: str) -> SheetTooLargeError:
    return SheetTooLargeError(
        f"An XLSX sheet has room for {room}, and here is more. "
        "Ask for CSV, or narrow the list by its filters."
    )


CSV: Final = SheetKind("csv", "text/csv", write_csv)
XLSX: Final = SheetKind(
    "xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", write_xlsx
)
KINDS: Final = (CSV, XLSX)
