"""From a text to rows of cells: by which sign the cells are parted."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Collection, Iterator
from itertools import islice
from typing import Final

from batches.exchange.rules.tables import Line, UnreadableError
from batches.exchange.rules.writing import heading_key

PARTINGS: Final = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}

_SAID_IN_FILE: Final = re.compile(r"sep=([,;\t|])\r?\n", re.IGNORECASE)  # a spreadsheet hides it
_LOOKED_AT: Final = 200  # rows that tell which of two signs parts cells


def parted(text: str, headings: Collection[str]) -> tuple[list[Line], str]:
    """The filled rows of a text, cells trimmed, and how they are parted in words.

    Args:
        text: All of it.
        headings: What the header may say, as `heading_key` has it.

    Raises:
        UnreadableError: quotation marks do not match, or two signs may part the cells.
    """
    if found := _SAID_IN_FILE.match(text):
        text, sign = text[found.end() :], found[1]
    else:
        sign = _sign(text, headings)
    return list(_lines(text, sign)), f"parted by {PARTINGS[sign]}"


def _sign(text: str, headings: Collection[str]) -> str:
    headers = {sign: _header(text, sign) for sign in PARTINGS}
    parting = [sign for sign, header in headers.items() if len(header) > 1]
    if len(parting) <= 1:
        return parting[0] if parting else ","
    known = {sign: sum(heading_key(cell) in headings for cell in headers[sign]) for sign in parting}
    best = [sign for sign in parting if known[sign] == max(known.values())]
    even = [sign for sign in best if _is_even(text, sign, len(headers[sign]))]
    if len(best) > 1 and len(even) != 1:
        signs = " or ".join(PARTINGS[sign] for sign in best)
        raise UnreadableError(
            f"It cannot be told whether {signs} part the cells. Save it as CSV with commas.", 1
        )
    return best[0] if len(best) == 1 else even[0]


def _header(text: str, sign: str) -> list[str]:
    try:
        return next((cells for cells in _records(text, sign) if any(map(str.strip, cells))), [])
    except csv.Error:
        return []


def _is_even(text: str, sign: str, width: int) -> bool:
    """Whether the first rows have as many cells as the header."""
    try:
        return all(len(cells) in {0, width} for cells in islice(_records(text, sign), _LOOKED_AT))
    except csv.Error:
        return False


def _records(text: str, sign: str) -> Iterator[list[str]]:
    return csv.reader(io.StringIO(text, newline=""), delimiter=sign, strict=True)


def _lines(text: str, sign: str) -> Iterator[Line]:
    number = 0
    try:
        for number, cells in enumerate(_records(text, sign), 1):
            trimmed = [cell.strip() for cell in cells]
            if any(trimmed):
                yield Line(number, trimmed)
    except csv.Error as error:
        raise UnreadableError(
            f"The quotation marks do not match from here on ({error}). Inside a quoted cell write "
            'a quotation mark twice: "".',
            number + 1,
        ) from error
