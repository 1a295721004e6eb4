"""From an .xlsx workbook (ISO/IEC 29500) to tables: what its cells show, and what cannot be read.

A formula gives the value that the spreadsheet kept of it. Nothing is computed here.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from io import BytesIO
from typing import TYPE_CHECKING, Any, Final
from xml.etree import ElementTree

from batches.exchange.rules import SHEETS
from batches.exchange.rules.tables import Kept, Line, Table, Typed, UnreadableError
from batches.exchange.rules.writing import heading_key

if TYPE_CHECKING:
    from openpyxl import Workbook

UNPACKED_BYTES_MAX: Final = 100_000_000
PARTS_MAX: Final = 2_000
COLUMNS_MAX: Final = 300
EXPLANATION_TAB: Final = "explanation"
"""The sheet of a template that says how to fill the others; it is never read."""

_DIGITS_KEPT: Final = 15  # of a number, by every spreadsheet: IEEE 754 doubles
_ZEROS: Final = re.compile(r"0+")
_TOLD_APART: Final = re.compile(rb"<(?:\w+:)?(?:f|mergeCell)[ >/]")
_NO_VALUE: Final = "The formula has no value yet. Open the workbook in the spreadsheet and save it."
_SHOWN_MAX: Final = 24

# What a damaged or a made-up file makes its parsers say.
_DAMAGE: Final = (
    zipfile.BadZipFile, zlib.error, ElementTree.ParseError, ArithmeticError, AttributeError,
    EOFError, LookupError, NotImplementedError, OSError, RuntimeError, TypeError, ValueError,
)  # fmt: skip


def workbook_tables(name: str, data: bytes) -> list[Table]:
    """The sheets of a workbook that hold anything.

    Raises:
        UnreadableError: too large once unpacked, damaged, or empty.
    """
    from openpyxl import load_workbook  # noqa: PLC0415 - it takes a while, and few need it

    try:
        _refuse_bombs(data)
        book = load_workbook(BytesIO(data), read_only=True, data_only=True, keep_links=False)
        tables = [table for table in _tables(name, book) if table.lines or table.troubles]
    except _DAMAGE as error:
        raise UnreadableError(
            "The workbook is damaged, or not quite one. Open it in a spreadsheet and save it again."
        ) from error
    if not tables:
        raise UnreadableError("The workbook is empty. A sheet begins with a header.")
    only = tables[0]
    if len(tables) == 1 and heading_key(only.tab) not in {sheet.name for sheet in SHEETS}:
        only.tab = ""
    return tables


def _refuse_bombs(data: bytes) -> None:
    """Look at what the parts say they are before any is unpacked; zipfile holds them to it."""
    with zipfile.ZipFile(BytesIO(data)) as archive:
        parts = archive.infolist()
        if len(parts) > PARTS_MAX or sum(part.file_size for part in parts) > UNPACKED_BYTES_MAX:
            raise UnreadableError(
                f"The workbook has more than {PARTS_MAX} parts or {UNPACKED_BYTES_MAX // 10**6} MB "
                "once unpacked. Save the sheets as CSV."
            )
        if any(part.flag_bits & 1 for part in parts):
            raise UnreadableError("It is behind a password. Save a copy without one.")
        for part in parts:
            # No workbook declares a document type; whoever does means to expand entities.
            if part.filename.endswith((".xml", ".rels")) and b"<!DOCTYPE" in _head(archive, part):
                raise UnreadableError("The workbook declares a document type. Save it again.")


def _head(archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> bytes:
    with archive.open(part) as source:
        return source.read(1000)


def _tables(name: str, book: Workbook) -> Iterator[Table]:
    for sheet in book.worksheets:
        opened: Any = sheet  # its stubs are those of a sheet that is read whole
        if heading_key(opened.title) == EXPLANATION_TAB:
            continue
        table = Table(name, opened.title, how=["a workbook"])
        if opened.sheet_state != "visible":
            advice = "The sheet is hidden. Show it, or take it out of a copy of the workbook."
            table.troubles.append((0, "", advice))
            yield table
            continue
        with opened._get_source() as source:  # the only way to its part of the file
            merged, hollow = _merged_and_hollow(source.read())
        table.troubles += [
            (_row_of(ref), ref, "The cells are one. Part them, and fill each.") for ref in merged
        ]
        opened.reset_dimensions()  # what it says of its own size need not be so
        table.lines = list(_lines(opened.iter_rows(), hollow))
        yield table


def _merged_and_hollow(xml: bytes) -> tuple[list[str], set[tuple[int, int]]]:
    """Ranges of merged cells, and row and column of formulas without a value."""
    from openpyxl.utils.cell import coordinate_to_tuple  # noqa: PLC0415 - as above

    merged: list[str] = []
    hollow: set[tuple[int, int]] = set()
    if not _TOLD_APART.search(xml):
        return merged, hollow
    for _, element in ElementTree.iterparse(BytesIO(xml)):  # noqa: S314 - no document type: above
        tag = element.tag.rpartition("}")[2]
        if tag == "mergeCell":
            merged.append(element.get("ref", ""))
        elif tag == "c":
            filled = {part.tag.rpartition("}")[2] for part in element if part.text or len(part)}
            is_formula = any(part.tag.endswith("}f") or part.tag == "f" for part in element)
            if is_formula and not filled & {"v", "is"} and "r" in element.attrib:
                hollow.add(coordinate_to_tuple(element.attrib["r"]))
            element.clear()
    return merged, hollow


def _row_of(ref: str) -> int:
    digits = re.search(r"[0-9]+", ref)
    return int(digits[0]) if digits else 0


def _lines(rows: Iterable[Sequence[Any]], hollow: set[tuple[int, int]]) -> Iterator[Line]:
    width = 0
    for number, row in enumerate(rows, 1):
        cells = [_cell(cell) for cell in row]
        for place in range(len(cells)) if hollow else ():
            if (number, place + 1) in hollow:
                cells[place] = Typed(Kept.WRONG, "", _NO_VALUE)
        while cells and not cells[-1]:
            cells.pop()
        if len(cells) > COLUMNS_MAX:
            raise UnreadableError(f"A row has more than {COLUMNS_MAX} cells.", number)
        if cells:
            width = width or len(cells)
            yield Line(number, [*cells, *[""] * (width - len(cells))])


def _cell(cell: Any) -> str | Typed:
    """What stands in a cell of openpyxl's."""
    value = cell.value
    if value is None:
        return ""
    if cell.data_type == "e":
        return Typed(Kept.WRONG, str(value), "It is an error of the spreadsheet. Mend it there.")
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, bool):
        return Typed(Kept.FLAG, "yes" if value else "no")
    return _kept(value, cell.number_format)


def _kept(value: float | date | time | timedelta, shown_as: str) -> Typed:
    if isinstance(value, int | float):
        return _number(value, shown_as)
    if isinstance(value, date):
        return _moment(value, shown_as)
    return Typed(Kept.TIME, str(value))


def _number(value: float, shown_as: str) -> Typed:
    if abs(value) >= 10**_DIGITS_KEPT:
        return Typed(
            Kept.WRONG,
            f"{value:.15g}"[:_SHOWN_MAX],
            f"A spreadsheet keeps {_DIGITS_KEPT} digits of a number. Format the column as text and "
            "write it again.",
        )
    # 0.1 + 0.2 is shown, and meant, as 0.3.
    text = f"{Decimal(f'{value:.{_DIGITS_KEPT}g}'):f}"
    if _ZEROS.fullmatch(shown_as) and text.isdigit():
        text = text.zfill(len(shown_as))
    return Typed(Kept.NUMBER, text)


def _moment(value: date, shown_as: str) -> Typed:
    from openpyxl.styles.numbers import is_datetime  # noqa: PLC0415 - as above

    if isinstance(value, datetime):
        value = (value + timedelta(microseconds=500_000)).replace(microsecond=0)
        if is_datetime(shown_as) != "date" or value.time() != time(0):
            seconds = "seconds" if value.second else "minutes"
            return Typed(Kept.MOMENT, value.isoformat(" ", seconds))
        value = value.date()
    return Typed(Kept.DAY, value.isoformat())
