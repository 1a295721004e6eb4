"""One sheet as XLSX: Office Open XML, ECMA-376, transitional. Text, numbers, days; no formulas.

Written here and not by openpyxl: row by row into the zip, in a tenth of the time. The tests read it
back with openpyxl.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import IO, Final
from xml.sax.saxutils import escape
from zipfile import ZIP_DEFLATED, ZipFile

ROWS_MAX: Final = 1_048_576
"""Rows of a sheet, the head among them."""

TEXT_MAX: Final = 32_767
"""Characters of a cell."""

SHEET_BYTES_MAX: Final = 2**31 - 2**24
"""Of XML, before it is packed; beyond, a zip needs extensions that not every reader has."""

_DIGITS_MAX: Final = 15  # what a binary64 number keeps of any decimal one
_FIRST_DAY: Final = date(1899, 12, 30)  # day 0, so that days after February 1900 come out right

# What XML cannot hold, and what a reader would take for an escape of this format (22.9.2.19).
_UNFIT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_ESCAPE_LIKE = re.compile("_(?=x[0-9A-Fa-f]{4}_)")

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml"
_XML = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>'

_PARTS: Final = {
    "[Content_Types].xml": f'{_XML}<Types xmlns="{_PACKAGE}/content-types">'
    '<Default Extension="rels"'
    ' ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    f'<Override PartName="/xl/workbook.xml" ContentType="{_TYPE}.sheet.main+xml"/>'
    f'<Override PartName="/xl/styles.xml" ContentType="{_TYPE}.styles+xml"/>'
    f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{_TYPE}.worksheet+xml"/></Types>',
    "_rels/.rels": f'{_XML}<Relationships xmlns="{_PACKAGE}/relationships">'
    f'<Relationship Id="rId1" Type="{_OFFICE}/officeDocument" Target="xl/workbook.xml"/>'
    "</Relationships>",
    "xl/workbook.xml": f'{_XML}<workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}">'
    "<bookViews><workbookView/></bookViews>"
    '<sheets><sheet name="rows" sheetId="1" r:id="rId1"/></sheets></workbook>',
    "xl/_rels/workbook.xml.rels": f'{_XML}<Relationships xmlns="{_PACKAGE}/relationships">'
    f'<Relationship Id="rId1" Type="{_OFFICE}/worksheet" Target="worksheets/sheet1.xml"/>'
    f'<Relationship Id="rId2" Type="{_OFFICE}/styles" Target="styles.xml"/></Relationships>',
    # Cell formats: 0 plain, 1 a day, 2 the head.
    "xl/styles.xml": f'{_XML}<styleSheet xmlns="{_MAIN}">'
    '<numFmts count="1"><numFmt numFmtId="164" formatCode="yyyy\\-mm\\-dd"/></numFmts>'
    '<fonts count="2"><font/><font><b/></font></fonts>'
    '<fills count="2"><fill><patternFill patternType="none"/></fill>'
    '<fill><patternFill patternType="gray125"/></fill></fills>'
    '<borders count="1"><border/></borders><cellStyleXfs count="1"><xf/></cellStyleXfs>'
    '<cellXfs count="3"><xf xfId="0"/><xf numFmtId="164" applyNumberFormat="1" xfId="0"/>'
    '<xf fontId="1" applyFont="1" xfId="0"/></cellXfs>'
    '<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles>'
    "</styleSheet>",
}
_BEFORE_ROWS = (
    f'{_XML}<worksheet xmlns="{_MAIN}"><sheetViews><sheetView workbookViewId="0">'
    '<pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/>'
    "</sheetView></sheetViews><sheetData>"
)
_AFTER_ROWS = "</sheetData></worksheet>"

Cell = str | int | Decimal | bool | date | None


class NoRoomError(Exception):
    """More than the format can hold; says what, for the sentence that a person gets."""


def write_sheet(
    file: IO[bytes],
    head: Sequence[str],
    rows: Iterable[Sequence[Cell]],
    *,
    rows_max: int = ROWS_MAX,
) -> None:
    """Head and rows, in memory one at a time.

    Raises:
        NoRoomError: more rows, a longer text or more of all than the format has room for.
    """
    with ZipFile(file, "w", ZIP_DEFLATED, compresslevel=1) as parts:
        for name, text in _PARTS.items():
            parts.writestr(name, text)
        with parts.open("xl/worksheets/sheet1.xml", "w") as sheet:
            sheet.write((_BEFORE_ROWS + _row(head, ' s="2"')).encode())
            written = 0
            for number, row in enumerate(rows, start=2):
                if number > rows_max:
                    raise NoRoomError(f"{rows_max - 1:,} rows")
                written += sheet.write(_row(row).encode())
                if written > SHEET_BYTES_MAX:
                    raise NoRoomError("two gigabytes")
            sheet.write(_AFTER_ROWS.encode())


def _row(cells: Sequence[Cell], style: str = "") -> str:
    return f"<row>{''.join([_cell(cell, style) for cell in cells])}</row>"


def _cell(cell: Cell, style: str) -> str:
    match cell:
        case None | "":
            return "<c/>"
        case bool():
            return f'<c t="b"><v>{cell:d}</v></c>'
        case int() | Decimal():
            return _number(Decimal(cell), style)
        case date():
            return f'<c s="1"><v>{(cell - _FIRST_DAY).days}</v></c>'
        case _:
            return _text(cell, style)


def _number(number: Decimal, style: str) -> str:
    """A number where a spreadsheet keeps and shows every digit of it, else its digits as text."""
    is_kept = len(number.as_tuple().digits) <= _DIGITS_MAX
    return f"<c><v>{number:f}</v></c>" if is_kept else _text(f"{number:f}", style)


def _text(text: str, style: str) -> str:
    if len(text) > TEXT_MAX:
        raise NoRoomError(f"{TEXT_MAX:,} characters in a cell")
    fit = _ESCAPE_LIKE.sub("_x005F_", _UNFIT.sub("\ufffd", text))
    escaped = escape(fit, {"\r": "&#13;"})
    return f'<c t="inlineStr"{style}><is><t xml:space="preserve">{escaped}</t></is></c>'
