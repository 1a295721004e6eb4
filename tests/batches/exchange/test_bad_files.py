"""Files that cannot be taken, each with the very words that a person reads.

Slips of the pen in good ones are in `slips.csv`.
"""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Any, NamedTuple

import pytest
from openpyxl import Workbook

from batches.exchange.rules.writing import Writing
from tests.batches.exchange.small import problems_in
from tests.batches.exchange.workbooks import repacked, workbook, zipped

pytestmark = pytest.mark.django_db

SAVE = "Save the sheet as .xlsx, or as CSV in UTF-8."
IN_UTF8 = (
    "Save it as CSV in UTF-8, or say --encoding and one of: utf-8, utf-16, windows-1250, "
    "windows-1252, iso-8859-1, iso-8859-15, macintosh, ibm437, ibm850."
)
UNSURE = "and it cannot be told safely what else it is. " + IN_UTF8
EIGHT = datetime.fromisoformat("2026-01-05 08:00")
YES = True
COMPOUND = bytes.fromhex("d0cf11e0a1b11ae1") + bytes(600)
PLAIN = workbook({"colorways": [["code", "name"], ["GRN", "Green"]]})


def tab(*rows: list[Any], **how: Any) -> bytes:
    """A workbook with one sheet, the colorways."""
    return workbook({"colorways": [["code", "name"], *rows]}, **how)


def orders(*cells: Any) -> bytes:
    header = ["order", "supplier", "ordered_on", "item", "packs", "amount", "unit"]
    return workbook({"supplier_orders": [header, cells]})


def merged(book: Workbook) -> None:
    book["colorways"].merge_cells("A2:A3")


def hidden(book: Workbook) -> None:
    book["colorways"].sheet_state = "hidden"
    book.create_sheet("notes")


def formula_without_value(book: Workbook) -> None:
    book["colorways"]["B2"] = "=A2"


def error_value(book: Workbook) -> None:
    cell = book["colorways"]["B2"]
    cell.value, cell.data_type = "#REF!", "e"


def with_document_type(name: str, data: bytes) -> bytes:
    return b'<!DOCTYPE x [<!ENTITY a "b">]>' + data if name.endswith("sheet1.xml") else data


def cut(name: str, data: bytes) -> bytes:
    return data[: len(data) // 2] if name.endswith("sheet1.xml") else data


def bomb() -> bytes:
    zeros = bytes(50_000_000)
    parts = {f"xl/media/{number}.bin": zeros for number in range(7)}
    return zipped({"[Content_Types].xml": b"<x/>", "xl/workbook.xml": b"<x/>", **parts})


class Bad(NamedTuple):
    """A file, and what is said about it."""

    name: str
    data: bytes
    said: str


FILES: dict[str, Bad] = {
    # What it is
    "no such sheet": Bad(
        "item.csv", b"code\n", "item.csv: There is no such sheet. Did you mean items.csv?",
    ),
    "nothing in it": Bad(
        "models.csv", b"", "models.csv: The file is empty. It begins with a header.",
    ),
    "blanks alone": Bad(
        "models.csv", b" \r\n\r\n", "models.csv: The file is empty. It begins with a header.",
    ),
    "a mark and no more": Bad(
        "models.csv", b"\xef\xbb\xbf\n", "models.csv: The file is empty. It begins with a header.",
    ),
    "commas alone": Bad(
        "models.csv", b",,,\n,,\n", "models.csv: The file is empty. It begins with a header.",
    ),
    "PDF": Bad(
        "models.csv", b"%PDF-1.7\n",
        f"models.csv: It is a PDF, which shows a sheet but holds none. {SAVE}",
    ),
    "gzip": Bad(
        "models.csv", b"\x1f\x8b\x08",
        "models.csv: It is packed (gzip). Unpack it and import what is in it.",
    ),
    "7z": Bad(
        "models.csv", b"7z\xbc\xaf\x27\x1c",
        "models.csv: It is packed (7z). Unpack it and import what is in it.",
    ),
    "rar": Bad(
        "models.csv", b"Rar!\x1a\x07",
        "models.csv: It is packed (rar). Unpack it and import what is in it.",
    ),
    "picture, PNG": Bad("models.csv", b"\x89PNG\r\n", f"models.csv: It is a picture. {SAVE}"),
    "picture, JPEG": Bad("models.csv", b"\xff\xd8\xff\xe0", f"models.csv: It is a picture. {SAVE}"),
    "picture, GIF": Bad("models.csv", b"GIF89a", f"models.csv: It is a picture. {SAVE}"),
    "rich text": Bad(
        "models.csv", b"{\\rtf1",
        f"models.csv: It is a text document. Put the table into a spreadsheet. {SAVE}",
    ),
    "database": Bad(
        "models.csv", b"SQLite format 3\x00", "models.csv: It is a database, not a sheet.",
    ),
    "web page": Bad(
        "models.csv", b"\n<HTML><body>",
        f"models.csv: It is a web page. Open it in a spreadsheet. {SAVE}",
    ),
    "web page with its type": Bad(
        "models.csv", b"\xef\xbb\xbf<!doctype html>",
        f"models.csv: It is a web page. Open it in a spreadsheet. {SAVE}",
    ),
    "table of a web page": Bad(
        "models.xls", b"<table><tr>",
        f"models.xls: It is a web page. Open it in a spreadsheet. {SAVE}",
    ),
    "XML": Bad(
        "models.xls", b'<?xml version="1.0"?><Workbook/>',
        f"models.xls: It is XML. Open it in a spreadsheet. {SAVE}",
    ),
    "old workbook": Bad(
        "models.xls", COMPOUND,
        f"models.xls: It is a document of an old kind (.xls or the like). {SAVE}",
    ),
    "old workbook given as text": Bad(
        "models.csv", COMPOUND,
        f"models.csv: It is a document of an old kind (.xls or the like). {SAVE}",
    ),
    "behind a password": Bad(
        "models.xlsx", COMPOUND + "EncryptedPackage".encode("utf-16-le"),
        "models.xlsx: It is behind a password. Save a copy without one.",
    ),
    "OpenDocument": Bad(
        "models.ods",
        zipped({"mimetype": b"application/vnd.oasis.opendocument.spreadsheet",
                "content.xml": b"<x/>"}),
        f"models.ods: It is an OpenDocument file (.ods or the like). {SAVE}",
    ),
    "archive of components": Bad(
        "models.numbers", zipped({"Index/Document.iwa": b"x"}),
        f"models.numbers: It is a .numbers file or the like. {SAVE}",
    ),
    "macros": Bad(
        "models.xlsm", zipped({"xl/workbook.xml": b"<x/>", "xl/vbaProject.bin": b"x"}),
        "models.xlsm: It holds macros, which are not opened here. Save it as .xlsx.",
    ),
    "binary workbook": Bad(
        "models.xlsb", zipped({"xl/workbook.bin": b"x"}),
        f"models.xlsb: It is a binary workbook (.xlsb). {SAVE}",
    ),
    "text document": Bad(
        "models.docx", zipped({"word/document.xml": b"<x/>"}),
        f"models.docx: It is a text document. Put the table into a spreadsheet. {SAVE}",
    ),
    "sheets packed": Bad(
        "models.zip", zipped({"models.csv": b"code,name\n"}),
        "models.zip: It is packed (zip). Unpack it and import what is in it.",
    ),
    # How its text is written
    "UTF-32": Bad(
        "models.csv", "code,name\n".encode("utf-32"),
        "models.csv: It is written in UTF-32. Save it as CSV in UTF-8.",
    ),
    "UTF-16 without its mark": Bad(
        "models.csv", "code,name\n".encode("utf-16-le"), f"models.csv: It is not a text. {IN_UTF8}",
    ),
    "UTF-16 cut in a letter": Bad(
        "models.csv", "code,name\n".encode("utf-16")[:-1],
        "models.csv: It begins as UTF-16 does, but is not. Save it as CSV in UTF-8.",
    ),
    "mark of UTF-8 before something else": Bad(
        "models.csv", b"\xef\xbb\xbfcode,name\nM1,Mod\xe8le\n",
        "models.csv: It begins as UTF-8 does, but is not. Save it as CSV in UTF-8.",
    ),
    "accents of an old PC": Bad(
        "models.csv", "code,name\nM1,Modèle\n".encode("cp850"),
        f"models.csv row 2: The byte 0x8a is not UTF-8, {UNSURE}",
    ),
    "accents of an old Mac": Bad(
        "models.csv", "code,name\nM1,Modèle\n".encode("mac-roman"),
        f"models.csv row 2: The byte 0x8f is not UTF-8, {UNSURE}",
    ),
    "accent of an old PC that looks like a quotation mark": Bad(
        "models.csv", "code,name\nM1,Café\n".encode("cp850"),
        f"models.csv row 2: The byte 0x82 is not UTF-8, {UNSURE}",
    ),
    "sign that nobody writes": Bad(
        "models.csv", "code,name\nM1,5 €\n".encode("iso8859-15"),
        f"models.csv row 2: The byte 0xa4 is not UTF-8, {UNSURE}",
    ),
    "two encodings in one file": Bad(
        "models.csv", "code,name\nM1,Modèle\n".encode() + "M2,Modèle\n".encode("cp1252"),
        f"models.csv row 3: The byte 0xe8 is not UTF-8, {UNSURE}",
    ),
    "a letter lost before": Bad(
        "models.csv", "code,name\nM1,Mod\ufffdle\n".encode(),
        "models.csv row 2: A letter was lost before it came here (\ufffd). Save the sheet again "
        "from where it still is right.",
    ),
    "two signs that may part cells": Bad(
        "models.csv", b"a,b;c,d\n",
        "models.csv row 1: It cannot be told whether commas or semicolons part the cells. Save it "
        "as CSV with commas.",
    ),
    "sign that parts no cells": Bad(
        "colorways.csv", b'sep="\ncode,name\n',
        "colorways.csv row 1: The header seems to stand in row 2. Take out the rows above it.",
    ),
    "header alone, of somebody else": Bad(
        "colorways.csv", b"code,nom\n",
        'colorways.csv row 1 “nom”: The sheet has no such column. There are: code, name. '
        'Say --heading "colorways:nom=COLUMN", or "colorways:nom=" to leave it out.',
    ),
    "heading of signs alone": Bad(
        "colorways.csv", b"code,name,#\nGRN,Green,1\n",
        'colorways.csv row 1 “#”: The sheet has no such column. There are: code, name. '
        'Say --heading "colorways:#=COLUMN", or "colorways:#=" to leave it out.',
    ),
    "title above the header": Bad(
        "colorways.csv", b"Our shades,,\nas of May,,\n\ncode,name,\nGRN,Green,\n",
        "colorways.csv row 1: The header seems to stand in row 4. Take out the rows above it.",
    ),
    "column missing": Bad(
        "models.csv", b"code,length_mm\n",
        "models.csv row 1: The column name is missing; it must be there.",
    ),
    "quotation mark after semicolons": Bad(
        "models.csv", b'code;name\nM1;"One\n',
        "models.csv row 2: The quotation marks do not match from here on (unexpected end of data)."
        ' Inside a quoted cell write a quotation mark twice: "".',
    ),
    # Numbers and dates that only the whole sheet tells
    "thousands or decimals": Bad(
        "models.csv", b'code,name,length_mm\nM1,One,"1,234"\nM2,Two,"2,345"\n',
        "models.csv row 2, length_mm “1,234”: It can be 1234 with a decimal point or 1.234 with a "
        "decimal comma, and nothing in the sheet tells. The same with row 3 “2,345”. Say "
        "--decimals point or --decimals comma.",
    ),
    "both decimal marks": Bad(
        "bills.csv",
        b"item;stage;takes;amount;unit\nA;S;B;1,5;g\nA;S;C;2,5;g\nA;S;D;3.5;g\n",
        "bills.csv row 4, amount “3.5”: The sheet is written with a decimal comma, “1,5” in row 2 "
        "tells, and this is not. Write all of it in one way.",
    ),
    "day or month first": Bad(
        "opening_lots.csv", b"at,item,amount,unit\n1/2/2026 8:00,A,1,kg\n",
        "opening_lots.csv row 2, at “1/2/2026 8:00”: It can be 2026-02-01 08:00 with the day first "
        "or 2026-01-02 08:00 with the month first, and nothing in the sheet tells. Say --dates "
        "day-first or --dates month-first.",
    ),
    "day and month first": Bad(
        "opening_lots.csv",
        b"at,item,amount,unit,expires_on\n13.2.2026 8:00,A,1,g,\n14.2.2026 8:00,A,1,g,2.13.2026\n",
        "opening_lots.csv row 3, expires_on “2.13.2026”: The sheet is written with the day first, "
        "“13.2.2026 8:00” in row 2 tells, and this is not. Write all of it in one way.",
    ),
    # Workbooks
    "cut short": Bad(
        "colorways.xlsx", PLAIN[:-30],
        "colorways.xlsx: The file is damaged, or was not copied to its end. Save it again.",
    ),
    "part cut short": Bad(
        "colorways.xlsx", repacked(PLAIN, cut),
        "colorways.xlsx: The workbook is damaged, or not quite one. Open it in a spreadsheet and "
        "save it again.",
    ),
    "too large once unpacked": Bad(
        "colorways.xlsx", bomb(),
        "colorways.xlsx: The workbook has more than 2000 parts or 100 MB once unpacked. Save the "
        "sheets as CSV.",
    ),
    "document type": Bad(
        "colorways.xlsx", repacked(PLAIN, with_document_type),
        "colorways.xlsx: The workbook declares a document type. Save it again.",
    ),
    "empty workbook": Bad(
        "colorways.xlsx", workbook({"Sheet": []}),
        "colorways.xlsx: The workbook is empty. A sheet begins with a header.",
    ),
    "sheet of another name among ours": Bad(
        "shop.xlsx", workbook({"models": [["code", "name"]], "colorway": [["code", "name"]]}),
        "shop.xlsx (colorway): There is no such sheet. Did you mean colorways.csv?",
    ),
    "merged cells": Bad(
        "colorways.xlsx", tab(["GRN", "Green"], ["", "Lime"], change=merged),
        "colorways.xlsx (colorways) row 2 “A2:A3”: The cells are one. Part them, and fill each.",
    ),
    "hidden sheet": Bad(
        "colorways.xlsx", tab(["GRN", "Green"], change=hidden),
        "colorways.xlsx (colorways): The sheet is hidden. Show it, or take it out of a copy of the "
        "workbook.",
    ),
    "formula without a value": Bad(
        "colorways.xlsx", tab(["GRN", ""], change=formula_without_value),
        "colorways.xlsx (colorways) row 2, name: The formula has no value yet. Open the workbook "
        "in the spreadsheet and save it.",
    ),
    "error value": Bad(
        "colorways.xlsx", tab(["GRN", ""], change=error_value),
        "colorways.xlsx (colorways) row 2, name “#REF!”: It is an error of the spreadsheet. Mend "
        "it there.",
    ),
    "code that became a date": Bad(
        "colorways.xlsx", tab([date(2026, 3, 1), "March"]),
        "colorways.xlsx (colorways) row 2, code “2026-03-01”: The spreadsheet keeps it as a date. "
        "Format the column as text and write it again.",
    ),
    "code that became a time": Bad(
        "colorways.xlsx", tab([time(1, 30), "Half past one"]),
        "colorways.xlsx (colorways) row 2, code “01:30:00”: The spreadsheet keeps it as a time of "
        "day. Format the column as text and write it again.",
    ),
    "number of more digits than are kept": Bad(
        "colorways.xlsx", tab([1234567890123456, "Long"]),
        "colorways.xlsx (colorways) row 2, code “1.23456789012346e+15”: A spreadsheet keeps 15 "
        "digits of a number. Format the column as text and write it again.",
    ),
    "time where a day belongs": Bad(
        "supplier_orders.xlsx", orders("PO1", "N", EIGHT, "A", 1, 1, "kg"),
        "supplier_orders.xlsx (supplier_orders) row 2, ordered_on “2026-01-05 08:00”: Write the "
        "day as year-month-day, like 2026-03-01.",
    ),
    "number where a day belongs": Bad(
        "supplier_orders.xlsx", orders("PO1", "N", 46027, "A", 1, 1, "kg"),
        "supplier_orders.xlsx (supplier_orders) row 2, ordered_on “46027”: Write the day as "
        "year-month-day, like 2026-03-01.",
    ),
    "words where a number belongs": Bad(
        "supplier_orders.xlsx", orders("PO1", "N", date(2026, 1, 5), "A", "a few", 1, "kg"),
        "supplier_orders.xlsx (supplier_orders) row 2, packs “a few”: The number of packs is not a "
        "plain number. Write it like 1234.5, without commas or words.",
    ),
    "yes or no where a number belongs": Bad(
        "supplier_orders.xlsx", orders("PO1", "N", date(2026, 1, 5), "A", YES, 1, "kg"),
        "supplier_orders.xlsx (supplier_orders) row 2, packs “yes”: The number of packs is not a "
        "plain number. Write it like 1234.5, without commas or words.",
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", FILES)
def test_a_file_that_cannot_be_taken_is_named_with_what_to_do(kind: str) -> None:
    bad = FILES[kind]
    assert bad.said in problems_in({bad.name: bad.data})


# What somebody says that does not hold.
SAID: dict[str, tuple[Writing, bytes, str]] = {
    "encoding": (
        Writing(encoding="utf-8"), "code,name\nGRN,Grün\n".encode("cp1252"),
        "colorways.csv: It is not written in utf-8.",
    ),
    "encoding without letters of its own": (
        Writing(encoding="windows-1252"), b"code,name\nGRN,Gr\x81n\n",
        "colorways.csv: It is not written in windows-1252.",
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", SAID)
def test_what_is_said_of_a_file_and_does_not_hold_is_told(kind: str) -> None:
    writing, data, said = SAID[kind]
    assert problems_in({"colorways.csv": data}, writing) == [said]


def test_a_decimal_mark_that_is_said_and_not_there_is_told() -> None:
    header = b"code,name,kind,unit,piece_mass_mg,density_mg_per_ul\n"
    data = header + b'A,A,paint,mL,"1,234",1.5\n'
    (said,) = problems_in({"items.csv": data}, Writing(decimals="comma"))
    assert said == (
        "items.csv row 2, density_mg_per_ul “1.5”: The sheet is written with a decimal comma, and "
        "this is not. Write all of it in one way."
    )


def test_one_sheet_twice_is_told_by_both_names() -> None:
    files = {"colorways.csv": b"code,name\nBLK,Black\n", "shop.xlsx": PLAIN}
    assert problems_in(files) == [
        "shop.xlsx (colorways): The sheet colorways came already: colorways.csv. Leave one out."
    ]
