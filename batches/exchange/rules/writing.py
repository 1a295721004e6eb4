"""How sheets are written, as far as somebody says; the rest is told from the files themselves."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

from batches.exchange.rules import SHEETS
from shopfloor.errors import InvalidInputError

ENCODINGS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "utf-8": "utf-8-sig",
        "utf-16": "utf-16",
        "windows-1250": "cp1250",
        "windows-1252": "cp1252",
        "iso-8859-1": "latin-1",
        "iso-8859-15": "iso8859-15",
        "macintosh": "mac-roman",
        "ibm437": "cp437",
        "ibm850": "cp850",
    }
)
"""Encodings by their names at IANA, lower case, as Python knows them."""

DECIMALS: Final = ("point", "comma")
DATES: Final = ("day-first", "month-first")
HEADING_LENGTH_MAX: Final = 120


@dataclass(frozen=True, slots=True)
class Writing:
    """What somebody says of how the files are written.

    Attributes:
        encoding: One of `ENCODINGS`; empty: to be told.
        decimals: One of `DECIMALS`; empty: to be told.
        dates: One of `DATES`; empty: to be told.
        headings: The column that a heading stands for, by sheet and heading as `heading_key` has
            it; empty: none, the cells below are left out.
    """

    encoding: str = ""
    decimals: str = ""
    dates: str = ""
    headings: Mapping[tuple[str, str], str] = field(default_factory=dict)


AS_OURS: Final = Writing()


def heading_key(text: str) -> str:
    """A heading without what does not tell two apart: `Lead time, days:` is `lead_time_days`."""
    words = "".join(each if each.isalnum() else " " for each in text.casefold())
    return "_".join(words.split()) or text.strip().casefold()


def headings_said(pairs: Iterable[str]) -> dict[tuple[str, str], str]:
    """What headings stand for, as somebody writes it: `items: Part no = code`.

    Without a sheet it is for every sheet that has the column; with nothing after the sign the
    column is left out.

    Raises:
        InvalidInputError: a pair that is none, a sheet or column that is not there.
    """
    said: dict[tuple[str, str], str] = {}
    for pair in pairs:
        before, sign, column = (part.strip() for part in pair.rpartition("="))
        sheet_name, colon, heading = (part.strip() for part in before.partition(":"))
        sheets = [sheet for sheet in SHEETS if sheet.name == heading_key(sheet_name)]
        if not (colon and sheets):
            heading, sheets = before, list(SHEETS)
        named = heading_key(column)
        if not sign or not heading_key(heading) or len(heading) > HEADING_LENGTH_MAX:
            raise InvalidInputError(
                f"“{pair[:HEADING_LENGTH_MAX]}” is no pair. Write HEADING=COLUMN or "
                "SHEET:HEADING=COLUMN, and HEADING= for a column that is to be left out."
            )
        fitting = [sheet for sheet in sheets if not named or sheet.has_column(named)]
        if not fitting:
            where = f"The sheet {sheets[0].name} has no" if len(sheets) == 1 else "No sheet has a"
            raise InvalidInputError(f"{where} column {column}.")
        said |= {(sheet.name, heading_key(heading)): named for sheet in fitting}
    return said
