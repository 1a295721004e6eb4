"""Whether data is what its application identifier takes: length, characters, check digit, date."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Final

from shopfloor.codes.errors import CheckDigitError, Gs1ValueError
from shopfloor.codes.gs1.dates import is_day
from shopfloor.codes.gs1.identifiers import Identifier, Part
from shopfloor.codes.gs1.numbers import check_digit

_OTHER: Final[Mapping[str, re.Pattern[str]]] = MappingProxyType(
    {
        "N": re.compile(r"[^0-9]"),
        "X": re.compile(r"[^!\"%&'()*+,\-./0-9:;<=>?A-Z_a-z]"),
        "Y": re.compile(r"[^#\-/0-9A-Z]"),
        "Z": re.compile(r"[^\-0-9A-Z_a-z=]"),
    }
)
"""What does not belong in a part, by its characters. X: character set 82 (GS1 General
Specifications, section 7.11)."""

_TAKES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "N": "digits only",
        "X": "letters without marks, digits and ! \" % & ' ( ) * + , - . / : ; < = > ? _ only, no "
        "space",
        "Y": "A-Z, digits and # - / only",
        "Z": "letters, digits and - _ = only",
    }
)

_Rule = Callable[[str], bool]

_RULES: Final[Mapping[str, tuple[_Rule, str]]] = MappingProxyType(
    {
        "yymmd0": (lambda text: is_day(text, with_day_00=True), "a day as YYMMDD"),
        "yymmdd": (lambda text: is_day(text, with_day_00=False), "a day as YYMMDD"),
        "yyyymmdd": (lambda text: is_day(text[2:], with_day_00=False), "a day as YYYYMMDD"),
        "hh": (lambda text: int(text) < 24, "an hour, 00 to 23"),  # noqa: PLR2004
        "mi": (lambda text: int(text) < 60, "minutes, 00 to 59"),  # noqa: PLR2004
        "ss": (lambda text: int(text) < 60, "seconds, 00 to 59"),  # noqa: PLR2004
        "hhmi": (
            lambda text: int(text[:2]) < 24 and int(text[2:]) < 60,  # noqa: PLR2004
            "a time as hhmm",
        ),
        "nonzero": (lambda text: int(text) > 0, "more than zero"),
        "zero": (lambda text: int(text) == 0, "zero"),
        "yesno": (lambda text: text in {"0", "1"}, "0 or 1"),
        "hyphen": (lambda text: text == "-", "a hyphen"),
        "pieceoftotal": (
            lambda text: 0 < int(text[:2]) <= int(text[2:]),
            "a piece and how many there are, as 0102",
        ),
    }
)
"""What is checked beside length and characters. Codes of countries, currencies, packages and the
like stay unread: those lists live elsewhere and change."""


def check_value(identifier: Identifier, value: str) -> None:
    """Refuse data that the identifier does not take.

    Raises:
        Gs1ValueError: its length, a character, or a date or time that is none.
        CheckDigitError: the check digit does not fit.
    """
    _check_characters(identifier, value)
    low, high = identifier.length_min, identifier.length_max
    if not low <= len(value) <= high:
        wants = str(high) if low == high else f"{low} to {high}"
        raise _refusal(identifier, value, f"It takes {wants} characters, not {len(value)}.")
    place = 0
    for part in identifier.parts:
        text = value[place : place + part.length_max]
        place += len(text)
        if not text and part.is_optional:
            return
        _check_part(identifier, part, text, value)


def label_of(identifier: Identifier) -> str:
    """As messages name it: `(10) BATCH/LOT`."""
    return f"({identifier.code}) {identifier.title}"


def _check_characters(identifier: Identifier, value: str) -> None:
    """Judge all characters by the widest part first, so that a letter is not called too long."""
    kinds = {part.characters for part in identifier.parts}
    widest = "N" if kinds == {"N"} else next(kind for kind in "ZYX" if kind in kinds)
    _refuse_other(identifier, widest, value, value)


def _check_part(identifier: Identifier, part: Part, text: str, value: str) -> None:
    if not part.length_min <= len(text) <= part.length_max:
        raise _refusal(
            identifier, value, f"Of {part.length_max} characters in a row it has {len(text)}."
        )
    _refuse_other(identifier, part.characters, text, value)
    for rule in part.rules:
        if rule == "csum" and text[-1] != check_digit(text[:-1]):
            raise CheckDigitError(
                f"{label_of(identifier)}: {text} has a slip in it, the check digit does not fit. "
                "Compare every digit.",
                ai=identifier.code,
                text=text,
            )
        if rule in _RULES:
            holds, wanted = _RULES[rule]
            if not holds(text):
                raise _refusal(identifier, value, f"“{text}” is not {wanted}.")


def _refuse_other(identifier: Identifier, characters: str, text: str, value: str) -> None:
    if other := _OTHER[characters].search(text):
        name = "a space" if other[0] == " " else f"“{other[0]}”"
        if not other[0].isprintable():
            name = f"the character U+{ord(other[0]):04X}"
        raise _refusal(identifier, value, f"It takes {_TAKES[characters]}; {name} is not one.")


def _refusal(identifier: Identifier, value: str, why: str) -> Gs1ValueError:
    return Gs1ValueError(
        f"{label_of(identifier)} cannot be “{value[:40]}”. {why}",
        ai=identifier.code,
        title=identifier.title,
        value=value[:90],
    )
