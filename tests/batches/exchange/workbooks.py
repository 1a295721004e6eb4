"""Workbooks made for tests, whole ones and damaged ones."""

from __future__ import annotations

import zipfile
from collections.abc import Callable, Mapping, Sequence
from io import BytesIO
from typing import Any

from openpyxl import Workbook

Rows = Sequence[Sequence[Any]]


def workbook(sheets: Mapping[str, Rows], change: Callable[[Workbook], None] | None = None) -> bytes:
    """A workbook of these sheets, changed before it is saved."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
    if change:
        change(book)
    file = BytesIO()
    book.save(file)
    return file.getvalue()


def repacked(data: bytes, change: Callable[[str, bytes], bytes]) -> bytes:
    """The same workbook with the text of its parts changed."""
    file = BytesIO()
    with zipfile.ZipFile(BytesIO(data)) as old, zipfile.ZipFile(file, "w", 8) as new:
        for name in old.namelist():
            new.writestr(name, change(name, old.read(name)))
    return file.getvalue()


def zipped(parts: Mapping[str, bytes]) -> bytes:
    """A zip of these parts."""
    file = BytesIO()
    with zipfile.ZipFile(file, "w", 8) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return file.getvalue()
