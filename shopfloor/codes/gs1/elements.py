"""Element strings: application identifiers with their data, read from a symbol or built for one.

A symbol carries them in a row; FNC1, which readers report as ASCII 29, ends data that may vary in
length. People read the same with brackets around the identifiers. What may stand beside what is
judged in `partners.py`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from shopfloor.codes.errors import (
    Gs1IdentifierUnknownError,
    Gs1RepeatedError,
    Gs1TextError,
    Gs1ValueError,
)
from shopfloor.codes.gs1.identifiers import Identifier, identifier_at, identifiers
from shopfloor.codes.gs1.values import check_value, label_of

FNC1: Final = "\x1d"

GS1_SYMBOLOGIES: Final = frozenset({"C1", "e0", "d2", "Q3", "J1"})
"""What readers say of symbols with element strings (ISO/IEC 15424): GS1-128, GS1 DataBar, GS1
DataMatrix, GS1 QR, GS1 DotCode. C0, d1 and Q1 are the same symbols without FNC1 first."""

GS1_128_LENGTH_MAX: Final = 48
"""Characters in a GS1-128 with identifiers and separators, the first FNC1 apart (GS1 General
Specifications R18, p. 262)."""

SYMBOLOGY: Final = re.compile(r"\]([A-Za-z][0-9A-Za-z])")
"""The symbology identifier that a reader may send first, ISO/IEC 15424."""

_BRACKETED: Final = re.compile(r"\(([0-9]{2,4})\)")
_KEYS_NOT_IN_LINKS: Final = frozenset({"02", "03"})


@dataclass(frozen=True, slots=True)
class Element:
    """One application identifier and its data, checked."""

    ai: str
    value: str

    def __post_init__(self) -> None:
        check_value(self.identifier, self.value)

    @property
    def identifier(self) -> Identifier:
        """What its identifier stands for.

        Raises:
            Gs1IdentifierUnknownError: nothing.
        """
        if known := identifiers().get(self.ai):
            return known
        raise _unknown(self.ai)

    @property
    def number(self) -> Decimal:
        """Digits as a number; of a measure with its decimal places: 001250 under 3103 is 1.250."""
        return Decimal(int(self.value)).scaleb(-(self.identifier.decimals or 0))

    def __str__(self) -> str:
        return f"({self.ai}){self.value}"


@dataclass(frozen=True, slots=True)
class ElementString:
    """Elements in their order, none twice."""

    elements: tuple[Element, ...]

    def __post_init__(self) -> None:
        assert self.elements

    @property
    def data(self) -> str:
        """As a symbol carries it after its first FNC1, and as a reader sends it."""
        last = len(self.elements) - 1
        return "".join(
            element.ai
            + element.value
            + (FNC1 if element.identifier.has_separator and place < last else "")
            for place, element in enumerate(self.elements)
        )

    @property
    def symbol_text(self) -> str:
        """What to draw: FNC1 first makes a symbol a GS1 one."""
        return FNC1 + self.data

    @property
    def human(self) -> str:
        """The human-readable text beside the symbol: the same data, each identifier in brackets."""
        return "".join(map(str, self.elements))

    @property
    def fits_gs1_128(self) -> bool:
        """Whether it has no more characters than a GS1-128 may."""
        return len(self.data) <= GS1_128_LENGTH_MAX

    def value(self, ai: str) -> str | None:
        """The data of one identifier, or None."""
        return next((element.value for element in self.elements if element.ai == ai), None)


def element_string(values: Mapping[str, str] | Iterable[Element]) -> ElementString:
    """Elements in the order that makes the shortest symbol: keys, fixed lengths, then the rest.

    Args:
        values: Data by identifier, or elements; what stands first stays first among its like.

    Raises:
        Gs1TextError: nothing in it.
        Gs1IdentifierUnknownError, Gs1ValueError, CheckDigitError, Gs1RepeatedError: see
            `read_elements`.
    """
    given = (
        [Element(ai, value) for ai, value in values.items()]
        if isinstance(values, Mapping)
        else list(values)
    )
    return as_given(sorted(given, key=lambda element: _rank(element.identifier)))


def read_elements(text: str) -> ElementString:
    """Read elements in whatever order: as a reader sends them, or with brackets as people write.

    Bracketed data may not itself hold digits in brackets; data from a reader may.

    Args:
        text: With or without a symbology identifier; FNC1 as ASCII 29.

    Raises:
        Gs1TextError: empty, not from a GS1 symbol, or no identifier where one must stand.
        Gs1IdentifierUnknownError: no such identifier.
        Gs1ValueError: data too short or long, a wrong character, or no date.
        CheckDigitError: a GTIN, SSCC or other number with a slip in it.
        Gs1RepeatedError: an identifier twice with different data.
    """
    if symbology := SYMBOLOGY.match(text):
        text = text[symbology.end() :]
        if symbology[1] not in GS1_SYMBOLOGIES:
            raise Gs1TextError(
                f"The reader says ]{symbology[1]}: a symbol without GS1 data. Read it as plain "
                "text.",
                symbology=symbology[1],
            )
    text = text.removeprefix(FNC1)
    return as_given(_bracketed(text) if text.startswith("(") else _transmitted(text))


def _bracketed(text: str) -> list[Element]:
    pieces = _BRACKETED.split(text)
    if pieces[0]:
        raise Gs1TextError(
            "Write each application identifier in round brackets with its data behind it, as in "
            "(01)09521234543213(10)A1.",
            text=text[:90],
        )
    return [Element(ai, value) for ai, value in zip(pieces[1::2], pieces[2::2], strict=True)]


def _transmitted(text: str) -> list[Element]:
    found = []
    place = 0
    while place < len(text):
        identifier = identifier_at(text, place)
        if identifier is None:
            raise _unknown(text[place : place + 4])
        place += len(identifier.code)
        end = _end_of_value(text, place, identifier)
        found.append(Element(identifier.code, text[place:end]))
        # After data of fixed length a separator is not needed, and some writers send one.
        place = end + text.startswith(FNC1, end)
    return found


def _end_of_value(text: str, start: int, identifier: Identifier) -> int:
    separator = text.find(FNC1, start)
    end = len(text) if separator < 0 else separator
    if not identifier.has_separator:
        return min(end, start + identifier.length_max)
    if end - start > identifier.length_max:
        raise Gs1ValueError(
            f"{label_of(identifier)} takes at most {identifier.length_max} characters, and "
            f"{end - start} came before a separator (FNC1). Either it is too long, or the symbol "
            "or the reader left a separator out.",
            ai=identifier.code,
            title=identifier.title,
            value=text[start : start + 90],
        )
    return end


def as_given(elements: Iterable[Element]) -> ElementString:
    """Elements in the order they come in, each once.

    Raises:
        Gs1TextError: none.
        Gs1RepeatedError: an identifier twice with different data.
    """
    kept: dict[str, Element] = {}
    for element in elements:
        other = kept.setdefault(element.ai, element)
        if other.value != element.value:
            raise repeated(other, element)
    if not kept:
        raise Gs1TextError("There is no GS1 data in it. Scan the symbol again.")
    return ElementString(tuple(kept.values()))


def repeated(one: Element, other: Element) -> Gs1RepeatedError:
    """The refusal of one identifier with two values."""
    return Gs1RepeatedError(
        f"{label_of(one.identifier)} is there twice, as “{one.value}” and as “{other.value}”. One "
        "thing has one.",
        ai=one.ai,
        values=[one.value, other.value],
    )


def _unknown(text: str) -> Gs1IdentifierUnknownError:
    shown = "".join(letter if letter.isprintable() else "?" for letter in text[:4])
    return Gs1IdentifierUnknownError(
        f"No application identifier begins “{shown}”. Scan again; if it stays, the label is not "
        "as GS1 says, so type what it says.",
        text=shown,
    )


def _rank(identifier: Identifier) -> int:
    if identifier.is_key or identifier.code in _KEYS_NOT_IN_LINKS:
        return 0
    return 2 if identifier.has_separator else 1
