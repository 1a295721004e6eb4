"""The GS1 numbers: GTIN (an article), SSCC (a box or pallet), and the prefix a company licenses.

`checked_gtin` and `checked_sscc` take whatever has the right digits; what we print under GS1's
identifiers passes `refuse_restricted` too.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

from shopfloor.codes.errors import (
    CheckDigitError,
    CompanyPrefixError,
    Gs1NumberError,
    RestrictedNumberError,
)

GTIN_LENGTHS: Final = (8, 12, 13, 14)
GTIN_LENGTH: Final = 14
"""As it is kept: right justified, filled with zeros."""
SSCC_LENGTH: Final = 18

COMPANY_PREFIX_LENGTHS: Final = range(4, 13)
"""Digits of a company prefix (common practice, no source)."""

DEMONSTRATION: Final = "952"
"""GS1's prefix for demonstrations and examples: no company has it."""

_DIGITS: Final = re.compile(r"[0-9]+")
_RESTRICTED: Final = re.compile(r"02|04|2[0-9]")
_GTIN_8: Final = "0" * 6
_RESTRICTED_GTIN_8: Final = ("0", "2")


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
    return _checked(text, lengths=GTIN_LENGTHS, name="GTIN").rjust(GTIN_LENGTH, "0")


def checked_sscc(text: str) -> str:
    """An SSCC of 18 digits.

    Raises:
        Gs1NumberError: not 18 digits.
        CheckDigitError: the last digit does not fit.
    """
    return _checked(text, lengths=(SSCC_LENGTH,), name="SSCC")


@dataclass(frozen=True, slots=True)
class CompanyPrefix:
    """A licensed company prefix. Its length is part of it: no number tells where its prefix ends.

    Attributes:
        digits: As licensed, leading zeros included; of a U.P.C. prefix with the zero before it.

    Raises:
        CompanyPrefixError: not 4 to 12 digits.
        RestrictedNumberError: a prefix that no company can license.
    """

    digits: str

    def __post_init__(self) -> None:
        if not _DIGITS.fullmatch(self.digits) or len(self.digits) not in COMPANY_PREFIX_LENGTHS:
            raise CompanyPrefixError(
                f"A GS1 company prefix has {COMPANY_PREFIX_LENGTHS[0]} to "
                f"{COMPANY_PREFIX_LENGTHS[-1]} digits. Type it as it stands in the license.",
                prefix=self.digits[:30],
            )
        if _RESTRICTED.match(self.digits):
            raise RestrictedNumberError(
                f"{self.digits} begins like the numbers of restricted circulation (02, 04, 20 to "
                "29), which nobody licenses. Type the prefix as it stands in the license.",
                prefix=self.digits,
            )

    @property
    def is_demonstration(self) -> bool:
        """Whether it is for examples only: what carries it must say so."""
        return self.digits.startswith(DEMONSTRATION)

    def gtin(self, item_reference: int, *, indicator: int = 0) -> str:
        """The GTIN of an article, 14 digits.

        Args:
            item_reference: The shop's number of the article, >= 0.
            indicator: 0 for the article itself, 1 to 8 for a package of several, 9 for one of
                variable measure.

        Raises:
            Gs1NumberError: the reference has more digits than the prefix leaves.
        """
        assert 0 <= indicator <= 9  # noqa: PLR2004 - a digit
        rest = self._rest(item_reference, digits=12 - len(self.digits), name="GTIN")
        body = f"{indicator}{self.digits}{rest}"
        return body + check_digit(body)

    def free_gtin(self, taken: Collection[str]) -> str:
        """The GTIN of the first article that no taken one is of, itself or a carton of it.

        Args:
            taken: GTINs of 14 digits, of this prefix and others.

        Raises:
            Gs1NumberError: the prefix has no number left.
        """
        end = 1 + len(self.digits)
        used = {gtin[end:-1] for gtin in taken if gtin.startswith(self.digits, 1)}
        count = 10 ** (12 - len(self.digits))
        for reference in range(count):
            gtin = self.gtin(reference)
            if gtin[end:-1] not in used:
                return gtin
        raise Gs1NumberError(
            f"The prefix {self.digits} has no GTIN left: {count} are given. License another.",
            prefix=self.digits,
            count=count,
        )

    def sscc(self, serial_reference: int, *, extension: int = 0) -> str:
        """The SSCC of a box or pallet, 18 digits.

        Args:
            serial_reference: Counted by the shop, >= 0; not to be used again for a year
                (common practice, no source).
            extension: A digit of the shop's choice: ten times as many numbers.

        Raises:
            Gs1NumberError: the reference has more digits than the prefix leaves.
        """
        assert 0 <= extension <= 9  # noqa: PLR2004 - a digit
        rest = self._rest(serial_reference, digits=16 - len(self.digits), name="SSCC")
        body = f"{extension}{self.digits}{rest}"
        return body + check_digit(body)

    def sscc_of_count(self, count: int) -> str:
        """The SSCC of the shop's so-many-th box: where the serial is full, the extension counts on.

        Args:
            count: >= 0.

        Raises:
            Gs1NumberError: the prefix has no number left.
        """
        extension, reference = divmod(count, 10 ** (16 - len(self.digits)))
        if extension > 9:  # noqa: PLR2004 - a digit
            raise Gs1NumberError(
                f"The prefix {self.digits} has no SSCC left: {count} are given. License another.",
                prefix=self.digits,
                count=count,
            )
        return self.sscc(reference, extension=extension)

    def _rest(self, reference: int, *, digits: int, name: str) -> str:
        assert reference >= 0
        if reference >= 10**digits:
            raise Gs1NumberError(
                f"The prefix {self.digits} leaves {digits} digits of a {name}; {reference} has "
                "more. Use a smaller number, or license another prefix.",
                prefix=self.digits,
                reference=reference,
                digits_max=digits,
            )
        return str(reference).rjust(digits, "0") if digits else ""


def carton_gtin(gtin: str, taken: Collection[str]) -> str:
    """The GTIN of a carton of one article: that of the article behind the first free indicator.

    Args:
        gtin: Of the article, 14 digits with the indicator 0.
        taken: GTINs that are given.

    Raises:
        Gs1NumberError: cartons of it have all eight.

    Source: GS1 General Specifications, GTIN-14: indicator 1 to 8, the GTIN within less its check
    digit, a check digit of their own.
    """
    assert gtin.startswith("0")
    bodies = (f"{indicator}{gtin[1:-1]}" for indicator in range(1, 9))
    found = [number for body in bodies if (number := body + check_digit(body)) not in taken]
    if not found:
        raise Gs1NumberError(
            f"Cartons of {gtin} have all eight numbers that there are: the indicators 1 to 8.",
            gtin=gtin,
        )
    return found[0]


def printed_gtin(gtin: str) -> str:
    """A GTIN of 14 digits as articles carry it: in 8, 12, 13 or 14, without the zeros before."""
    return next(gtin[-length:] for length in GTIN_LENGTHS if not gtin[:-length].strip("0"))


def is_restricted(number: str) -> bool:
    """Whether a GTIN of 14 digits or an SSCC is of restricted circulation: no one's in the world.

    Prefixes 02, 04 and 20 to 29, and of the GTIN-8 the first digits 0 and 2.

    Source: GS1 General Specifications R18, p. 67 (04); GS1 prefix list (02, 20-29); of the GTIN-8
    common practice, no source.
    """
    if len(number) == GTIN_LENGTH and number.startswith(_GTIN_8):
        return number[len(_GTIN_8)] in _RESTRICTED_GTIN_8
    return _RESTRICTED.match(number, 1) is not None


def is_demonstration(gtin: str) -> bool:
    """Whether a GTIN of 14 digits is for examples only: what carries it must say so."""
    return gtin.startswith(DEMONSTRATION, 1)


def refuse_restricted(number: str) -> None:
    """Refuse to print a number as one that is unique in the world when it is not.

    Raises:
        RestrictedNumberError: see `is_restricted`.
    """
    if is_restricted(number):
        raise RestrictedNumberError(
            f"{number} is a number of restricted circulation: it means something inside this shop "
            "only, so it is neither a GTIN nor an SSCC. Print it as a plain code.",
            number=number,
        )


def _checked(text: str, *, lengths: tuple[int, ...], name: str) -> str:
    number = text.strip()
    if len(number) not in lengths or not _DIGITS.fullmatch(number):
        counts = " or ".join(map(str, lengths))
        raise Gs1NumberError(
            f"A {name} has {counts} digits and nothing else.",
            text=number[:30],
            lengths=list(lengths),
        )
    if number[-1] != check_digit(number[:-1]):
        # The expected digit stays untold: it would be typed in, over the digit that is wrong.
        raise CheckDigitError(
            f"This {name} has a slip in it: the check digit does not fit. Compare every digit.",
            text=number,
        )
    return number
