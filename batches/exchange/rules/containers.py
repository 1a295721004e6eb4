"""What sort of file it is, told by how it begins and not by its name."""

from __future__ import annotations

import zipfile
from io import BytesIO
from typing import Final

from batches.exchange.rules.tables import UnreadableError

SAVE_AS: Final = "Save the sheet as .xlsx, or as CSV in UTF-8."

_ZIP: Final = (b"PK\x03\x04", b"PK\x05\x06")
# The compound file of [MS-CFB] 2.2: old workbooks, and new ones behind a password.
_COMPOUND: Final = bytes.fromhex("d0cf11e0a1b11ae1")
_ENCRYPTED: Final = "EncryptedPackage".encode("utf-16-le")  # [MS-OFFCRYPTO] 2.3.4.4

_BEGINNINGS: Final[tuple[tuple[bytes, str], ...]] = (
    (b"%PDF", f"It is a PDF, which shows a sheet but holds none. {SAVE_AS}"),
    (b"\x1f\x8b", "It is packed (gzip). Unpack it and import what is in it."),
    (b"7z\xbc\xaf", "It is packed (7z). Unpack it and import what is in it."),
    (b"Rar!", "It is packed (rar). Unpack it and import what is in it."),
    (b"\x89PNG", f"It is a picture. {SAVE_AS}"),
    (b"\xff\xd8\xff", f"It is a picture. {SAVE_AS}"),
    (b"GIF8", f"It is a picture. {SAVE_AS}"),
    (b"{\\rtf", f"It is a text document. Put the table into a spreadsheet. {SAVE_AS}"),
    (b"SQLite format 3\x00", "It is a database, not a sheet."),
)
_MARKUP: Final[tuple[tuple[bytes, str], ...]] = (
    (b"<html", f"It is a web page. Open it in a spreadsheet. {SAVE_AS}"),
    (b"<!doctype", f"It is a web page. Open it in a spreadsheet. {SAVE_AS}"),
    (b"<table", f"It is a web page. Open it in a spreadsheet. {SAVE_AS}"),
    (b"<?xml", f"It is XML. Open it in a spreadsheet. {SAVE_AS}"),
)

_XLSX_PARTS: Final = {"[Content_Types].xml", "xl/workbook.xml"}


def is_workbook(data: bytes) -> bool:
    """Whether it is an .xlsx workbook; else it may be text.

    Raises:
        UnreadableError: it is neither, and what to do instead.
    """
    for beginning, advice in _BEGINNINGS:
        if data.startswith(beginning):
            raise UnreadableError(advice)
    head = data[:400].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    for beginning, advice in _MARKUP:
        if head.startswith(beginning):
            raise UnreadableError(advice)
    if data.startswith(_COMPOUND):
        raise UnreadableError(
            "It is behind a password. Save a copy without one."
            if _ENCRYPTED in data
            else f"It is a document of an old kind (.xls or the like). {SAVE_AS}"
        )
    if not data.startswith(_ZIP):
        return False
    _refuse_other_zip(data)
    return True


def _refuse_other_zip(data: bytes) -> None:
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            names = set(archive.namelist())
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError) as error:
        raise UnreadableError(
            "The file is damaged, or was not copied to its end. Save it again."
        ) from error
    lower = {name.lower() for name in names}
    if any(name.endswith("vbaproject.bin") for name in lower):
        raise UnreadableError("It holds macros, which are not opened here. Save it as .xlsx.")
    if "xl/workbook.bin" in lower:
        raise UnreadableError(f"It is a binary workbook (.xlsb). {SAVE_AS}")
    if "content.xml" in lower and "mimetype" in lower:
        raise UnreadableError(f"It is an OpenDocument file (.ods or the like). {SAVE_AS}")
    if any(name.endswith(".iwa") for name in lower):
        raise UnreadableError(f"It is a .numbers file or the like. {SAVE_AS}")
    if any(name.startswith(("word/", "ppt/")) for name in lower):
        raise UnreadableError(f"It is a text document. Put the table into a spreadsheet. {SAVE_AS}")
    if not names >= _XLSX_PARTS:
        raise UnreadableError("It is packed (zip). Unpack it and import what is in it.")
