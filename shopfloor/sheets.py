"""Rows as a sheet that spreadsheets open: CSV or XLSX. Never a formula, whatever a cell says."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import IO, Final, NamedTuple

from shopfloor import xlsx
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


def write_xlsx(file: IO[bytes], head: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """Numbers that a spreadsheet keeps exactly are numbers, others text; days are days.

    Raises:
        SheetTooLargeError: more than an XLSX sheet has room for.
    """
    try:
        xlsx.write_sheet(file, head, rows)
    except xlsx.NoRoomError as full:
        raise SheetTooLargeError(
            f"An XLSX sheet has room for {full}, and here is more. "
            "Ask for CSV, or narrow the list by its filters."
        ) from full


CSV: Final = SheetKind("csv", "text/csv", write_csv)
XLSX: Final = SheetKind(
    "xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", write_xlsx
)
KINDS: Final = (CSV, XLSX)
