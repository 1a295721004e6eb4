"""The application identifiers of GS1: what data each takes, what it needs and forbids beside it.

`identifiers.csv` holds them all, in the notation of its source: the GS1 Barcode Syntax Dictionary,
Copyright GS1 AISBL, Apache License 2.0 (`identifiers.LICENSE`).
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Final

_PART: Final = re.compile(r"(\[?)([NXYZ])(\.\.)?([0-9]+)\]?((?:,[a-z0-9]+)*)")
_MEASURE: Final = re.compile(r"3[1-6][0-9]{2}")
_LENGTHS: Final = (4, 3, 2)


@dataclass(frozen=True, slots=True)
class Part:
    """One component of an identifier's data.

    Attributes:
        characters: `N` digits, `X` character set 82, `Y` character set 39, `Z` base 64 for files.
        length_min: Fewest characters.
        length_max: Most characters.
        is_optional: It may be left out, with all after it.
        rules: What else must hold, by the dictionary's words: `csum`, `yymmd0` ...
    """

    characters: str
    length_min: int
    length_max: int
    is_optional: bool
    rules: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Identifier:
    """One application identifier.

    Attributes:
        code: 2 to 4 digits.
        title: The data title: `USE BY or EXPIRY`.
        parts: Of its data, in order.
        has_separator: Whether FNC1 must end its data when more follows.
        needs: All of these groups; of a group, one of its alternatives; of that, all identifiers.
        excludes: What may not be on the same thing; `310n` stands for all that begin with 310.
        is_key: Whether it may head a Digital Link.
        qualifiers: Of a key in a Digital Link: the sequences that may follow, each in its order.
        is_attribute: Whether it may stand in the query of a Digital Link.
    """

    code: str
    title: str
    parts: tuple[Part, ...]
    has_separator: bool
    needs: tuple[tuple[tuple[str, ...], ...], ...]
    excludes: tuple[str, ...]
    is_key: bool
    qualifiers: tuple[tuple[str, ...], ...]
    is_attribute: bool

    @property
    def length_min(self) -> int:
        """Fewest characters of its data."""
        return sum(part.length_min for part in self.parts if not part.is_optional)

    @property
    def length_max(self) -> int:
        """Most characters of its data."""
        return sum(part.length_max for part in self.parts)

    @property
    def decimals(self) -> int | None:
        """Of a weight, length, area or volume, the decimal places: the last digit of the code."""
        return int(self.code[-1]) if _MEASURE.fullmatch(self.code) else None


@cache
def identifiers() -> Mapping[str, Identifier]:
    """Every application identifier by its code."""
    text = resources.files(__package__).joinpath("identifiers.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(text.splitlines())
    found = {code: _identifier(code, row) for row in rows for code in _codes(row["identifier"])}
    return MappingProxyType(found)


def identifier_at(text: str, start: int = 0) -> Identifier | None:
    """The identifier that `text` has at a place, or None. No code begins another."""
    known = identifiers()
    for length in _LENGTHS:
        if found := known.get(text[start : start + length]):
            return found
    return None


def _codes(span: str) -> list[str]:
    first, _, last = span.partition("-")
    return [str(number).zfill(len(first)) for number in range(int(first), int(last or first) + 1)]


def _identifier(code: str, row: Mapping[str, str]) -> Identifier:
    return Identifier(
        code=code,
        title=row["title"],
        parts=tuple(map(_part, row["format"].split())),
        has_separator=row["separator"] == "yes",
        needs=tuple(
            tuple(tuple(way.split("+")) for way in group.split(","))
            for group in row["requires"].split()
        ),
        excludes=tuple(filter(None, row["excludes"].split(","))),
        is_key=row["key"] == "yes",
        qualifiers=tuple(tuple(way.split(",")) for way in row["qualifiers"].split("|") if way),
        is_attribute=row["attribute"] == "yes",
    )


def _part(text: str) -> Part:
    found = _PART.fullmatch(text)
    assert found, text
    bracket, characters, dots, length, rules = found.groups()
    return Part(
        characters=characters,
        length_min=1 if dots else int(length),
        length_max=int(length),
        is_optional=bool(bracket),
        rules=tuple(filter(None, rules.split(","))),
    )
