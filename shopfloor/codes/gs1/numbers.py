"""Check digits of the GS1 numbers: GTIN (an article) and SSCC (a box or pallet). Digits only.

A number of restricted circulation passes here too; whether it may be printed as a GTIN is for
whoever prints it.
"""

from __future__ import annotations

import re
from typing import Final

from shopfloor.codes.errors import CheckDigitError, Gs1NumberError

GTIN_LENGTHS: Final = (8, 12, 13, 14)
SSCC_LENGTH: Final = 18

_DIGITS: Final = re.compile(r"[0-9]+")


def check_digit(body: str) -> str:
    """The check digit that belongs after `body`.

    From the right, the digits weigh 3, 1, 3, 1 ...; the check digit brings the sum to a multiple
    of ten.

    Raises:
        Gs1NumberError: `body` is not all digits.

    Source: GS1 General Specifications, "Check digit calculations" (one rule for GTIN and SSCC).
    """
    if not _DIGITS.fullmatch(body):
        raise Gs1NumberError("A GS1 number has digits only.", text=body[:30])
    total = sum(int(digit) * (1 if place % 2 else 3) for place, digit in enumerate(reversed(body)))
    return str(-total % 10)


def checked_gtin(text: str) -> str:
    """A GTIN of 8, 12, 13 or 14 digits in the form it is kept in: 14 digits, filled with zeros.

    Raises:
        Gs1NumberError: not digits, or not so many.
        CheckDigitError: the last digit does not fit.
    """
    return _checked(text, lengths=GTIN_LENGTHS, name="GTIN").rjust(14, "0")


def checked_sscc(text: str) -> str:
    """An SSCC of 18 digits.

    Raises:
        Gs1NumberError: not 18 digits.
        CheckDigitError: the last digit does not fit.
    """
    return _checked(text, lengths=(SSCC_LENGTH,), name="SSCC")


def _checked(text: str, *, lengths: tuple[int, ...], name: str) -> str:
    number = text.strip()
    if len(number) not in lengths or not _DIGITS.fullmatch(number):
        counts = " or ".join(map(str, lengths))
        raise Gs1NumberError(
            f"A {name} has {counts} digits and nothing else.",
            text=number[:30],
            lengths=list(lengths),
        )
    expected = check_digit(number[:-1])
    if number[-1] != expected:
        # The expected digit stays untold: it would be typed in, over the digit that is wrong.
        raise CheckDigitError(
            f"This {name} has a slip in it: the check digit does not fit. Compare every digit.",
            text=number,
        )
    return number
