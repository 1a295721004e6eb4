"""Empty sheets to fill in: the columns, what belongs into each, and lists to choose from."""

from __future__ import annotations

import csv
import io
from typing import Final

from batches.exchange.rules.headings import explanation
from batches.exchange.rules.kinds import Holds
from batches.exchange.rules.sheets import Column, Sheet
from batches.exchange.rules.workbooks import EXPLANATION_TAB

ROWS: Final = 20_000
"""Rows that are made ready for lists to choose from."""

_FORMATS: Final = {
    Holds.WORDS: "@",
    Holds.FLAG: "@",
    Holds.NUMBER: "General",
    Holds.DAY: "yyyy-mm-dd",
    Holds.MOMENT: "yyyy-mm-dd hh:mm",
}
_WIDTHS: Final = {Holds.WORDS: 20, Holds.MOMENT: 18}
_WIDTH: Final = 12


def csv_template(sheet: Sheet) -> bytes:
    """The header, and a row that explains it, which is passed over when it comes back."""
    file = io.StringIO()
    writer = csv.writer(file)
    writer.writerow([column.name for column in sheet.columns])
    writer.writerow([explanation(column) for column in sheet.columns])
    # With its mark: a spreadsheet that is not told takes a text for one in its own encoding.
    return file.getvalue().encode("utf-8-sig")


def xlsx_template(sheet: Sheet) -> bytes:
    """A workbook with the header, and a second sheet that explains it and is never read."""
    from openpyxl import Workbook  # noqa: PLC0415 - it takes a while, and few need it
    from openpyxl.styles import Font  # noqa: PLC0415
    from openpyxl.utils import get_column_letter  # noqa: PLC0415
    from openpyxl.worksheet.datavalidation import DataValidation  # noqa: PLC0415

    book = Workbook()
    table = book.worksheets[0]
    table.title = sheet.name
    table.freeze_panes = "A2"
    for place, column in enumerate(sheet.columns, 1):
        letter, holds = get_column_letter(place), column.kind.holds
        table[f"{letter}1"].value = column.name
        table[f"{letter}1"].font = Font(bold=column.required)
        dimension = table.column_dimensions[letter]
        dimension.width = max(_WIDTHS.get(holds, _WIDTH), len(column.name) + 2)
        dimension.number_format = _FORMATS[holds]
        if column.kind.choices:
            choices = ",".join(column.kind.choices)
            listed = DataValidation(type="list", formula1=f'"{choices}"', allow_blank=True)
            table.add_data_validation(listed)
            listed.add(f"{letter}2:{letter}{ROWS + 1}")
    words = book.create_sheet(EXPLANATION_TAB)
    words.append(["column", "must be filled", "holds", "meaning"])
    for column in sheet.columns:
        words.append(_explained(column))
    for letter, width in zip("ABCD", (24, 16, 60, 60), strict=True):
        words.column_dimensions[letter].width = width
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def _explained(column: Column) -> list[str]:
    must = "yes" if column.required else "no"
    return [column.name, must, column.kind.words.replace("`", ""), column.about.replace("`", "")]
