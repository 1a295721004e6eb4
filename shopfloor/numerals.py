"""Reads a number that a person or a program wrote as text. What it counts is the caller's matter.

Refuses what `Decimal` would take silently: NaN, infinity, underscores, other scripts' digits.
"""

from __future__ import annotations

import re
from decimal import Decimal

from shopfloor.errors import InvalidInputError

SIGNIFICANT_DIGITS_MAX = 18
VALUE_MAX = Decimal(10**15)
"""Largest size of a number, in whatever unit it was written."""

_TEXT_LENGTH_MAX = 40
_DECIMAL_PLACES_MAX = 18
_PLAIN = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)(e[+-]?[0-9]{1,3})?", re.IGNORECASE)


class NumberUnreadableError(InvalidInputError):
    """Nothing, or something that is not a plain decimal number."""

    code = "number_unreadable"


class NumberTooLargeError(InvalidInputError):
    """Larger than anything this shop can hold; most likely a slip."""

    code = "number_too_large"


class NumberTooPreciseError(InvalidInputError):
    """More digits than are kept."""

    code = "number_too_precise"


class NumberNegativeError(InvalidInputError):
    """Below zero where that cannot be meant."""

    code = "number_negative"


def parse_number(text: str, *, what: str, allow_negative: bool = False) -> Decimal:
    """The exact value of a plain decimal number; `2E+3` becomes 2000, minus zero becomes zero.

    Args:
        text: `12`, `12.5`, `.5`, `+3`, `2E+3`; space around it is ignored. No thousands marks:
            `1,500` is one and a half in half the world.
        what: What the number is, for the message: "amount", "price".
        allow_negative: Whether a value below zero is taken.

    Raises:
        NumberUnreadableError: empty, NaN, infinity or any other text.
        NumberTooLargeError: beyond `VALUE_MAX`, plainly or by its exponent.
        NumberTooPreciseError: more than 18 significant digits or decimal places.
        NumberNegativeError: below zero and `allow_negative` is false.
    """
    trimmed = text.strip()
    if not trimmed:
        raise NumberUnreadableError(f"The {what} is empty. Enter a number.", what=what)
    if len(trimmed) > _TEXT_LENGTH_MAX or not _PLAIN.fullmatch(trimmed):
        raise NumberUnreadableError(
            f"The {what} is not a plain number. Write it like 1234.5, without commas or words.",
            what=what,
            text=trimmed[:_TEXT_LENGTH_MAX],
        )
    number = Decimal(trimmed)
    _, digits, exponent = number.as_tuple()
    assert isinstance(exponent, int)  # finite: the pattern has no NaN and no infinity
    facts = {"what": what, "text": trimmed}
    if not number:
        return Decimal(0)
    # Before the digits are counted: 1E+300 has one.
    if number.copy_abs() > VALUE_MAX:
        raise NumberTooLargeError(
            f"The {what} is larger than {VALUE_MAX:f}. Check the digits and the unit.",
            **facts,
            value_max=f"{VALUE_MAX:f}",
        )
    if len(digits) > SIGNIFICANT_DIGITS_MAX or -exponent > _DECIMAL_PLACES_MAX:
        raise NumberTooPreciseError(
            f"The {what} has more than {SIGNIFICANT_DIGITS_MAX} digits. Round it.",
            **facts,
            digits_max=SIGNIFICANT_DIGITS_MAX,
        )
    if number < 0 and not allow_negative:
        raise NumberNegativeError(f"The {what} is below zero.", **facts)
    return Decimal(f"{number:f}")
