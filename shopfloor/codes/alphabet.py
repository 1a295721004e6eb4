"""The shop's public codes: `L-7K4MX` is a kind, a number and a check character.

Also what a code must be that the shop gives itself. What a scanner sent is read in `scan.py`.
"""

from __future__ import annotations

import re
from enum import StrEnum
from typing import Final

from shopfloor.codes.errors import (
    CodeTypoError,
    CodeUnreadableError,
    OwnCodeError,
    WrongKindOfCodeError,
)

ALPHABET: Final = "23456789ACDEFGHJKMNPQRTVWXYZ"
"""No 0 O, 1 I L, and no B S U, which are read or heard as 8, 5 and V. 28 symbols, and 29 is prime:
that is what the check character's method needs."""

NUMBER_MAX: Final = 28**9 - 1
"""Largest number in a code: ten million million."""

OWN_CODE_LENGTH_MAX: Final = 24

_SYMBOLS_MIN: Final = 4  # with the check character: shorter ones look like a size or a quantity
_SYMBOLS_MAX: Final = 10
_OWN_CODE: Final = re.compile(r"[A-Z0-9]([A-Z0-9.-]*[A-Z0-9])?")


class Prefix(StrEnum):
    """What a generated code names, by its first letter.

    The check character covers the letter, so `B` heard for `P` or `E` is noticed. The first
    character of a code is always its prefix, so one may be a letter of `ALPHABET` too. A new one
    takes a letter that is free, and a look at the codes the shop gave itself: they may begin with
    that letter and a hyphen.
    """

    LOT = "L"
    BATCH = "B"
    ENTRY = "E"
    POSTING = "P"
    RECEIPT = "R"
    SUPPLIER_ORDER = "F"
    """*From* a supplier."""
    CUSTOMER_ORDER = "T"
    """*To* a customer."""
    COUNT = "C"
    BOX = "X"
    SHIPMENT = "S"
    HOLD = "H"
    CHECK = "K"
    PRINTING = "J"
    """A print *job*."""
    COMPLAINT = "W"
    """What went *wrong*."""
    RECALL = "Q"
    """A *quest* for every piece."""
    ALERT = "Y"
    """*Why* so many?"""


def encode(number: int, prefix: str) -> str:
    """The code of a number, at least four symbols after the hyphen.

    Args:
        number: 0 to `NUMBER_MAX`; each number of a kind has one code.
        prefix: A member of `Prefix`, or its letter.
    """
    assert 0 <= number <= NUMBER_MAX
    letter = Prefix(prefix)
    symbols = ""
    rest = number
    while rest:
        rest, digit = divmod(rest, len(ALPHABET))
        symbols = ALPHABET[digit] + symbols
    symbols = symbols.rjust(_SYMBOLS_MIN - 1, ALPHABET[0])
    return f"{letter}-{symbols}{check_character(letter, symbols)}"


def decode(text: str, prefix: str | None = None) -> tuple[Prefix, int]:
    """The kind and number in a code, as a person may type it.

    Lower case, space around it and a missing hyphen are no matter.

    Args:
        text: One code.
        prefix: The kind wanted, or None for any.

    Raises:
        CodeUnreadableError: no prefix of ours, or too short or long.
        CodeTypoError: a character our codes never use, or a check character that does not fit.
        WrongKindOfCodeError: a good code of another kind than `prefix`.
    """
    code = text.strip().upper()
    letter, symbols = code[:1], code[1:].removeprefix("-")
    if letter not in set(Prefix) or not _SYMBOLS_MIN <= len(symbols) <= _SYMBOLS_MAX:
        raise CodeUnreadableError(
            f"“{code[:30]}” is not a code of this shop. One looks like {encode(0, Prefix.LOT)}.",
            text=code[:30],
        )
    kind = Prefix(letter)
    number = _number(symbols, kind)
    if number is None:
        raise CodeTypoError(
            f"“{code}” has a slip in it: the check character does not fit. Compare it with the "
            f"label; our codes use only {ALPHABET}.",
            text=code,
        )
    if prefix is not None and kind is not Prefix(prefix):
        wanted = Prefix(prefix)
        raise WrongKindOfCodeError(
            f"“{code}” is the code of a {noun(kind)}; here the code of a {noun(wanted)} is needed.",
            text=code,
            kind=noun(kind),
            wanted=noun(wanted),
        )
    return kind, number


def noun(prefix: Prefix) -> str:
    """What a prefix names, in words: `supplier order`."""
    return prefix.name.lower().replace("_", " ")


def check_character(prefix: str, symbols: str) -> str:
    """The check character over prefix and symbols.

    ISO/IEC 7064 hybrid system, MOD 29,28: the prefix counts by its place in A to Z from 0, a symbol
    by its place in `ALPHABET`. Finds every single wrong character.
    """
    size = len(ALPHABET)
    product = size
    for value in (ord(prefix) - ord("A"), *(ALPHABET.index(symbol) for symbol in symbols)):
        product = ((product + value) % size or size) * 2 % (size + 1)
    return ALPHABET[(1 - product) % size]


def own_code(text: str) -> str:
    """A code the shop gives itself, in the one form it is kept in: upper case, no space around it.

    Raises:
        OwnCodeError: not 1 to 24 of A-Z, 0-9, hyphen and point; punctuation at an end; or it begins
            like one of the codes this service makes.
    """
    trimmed = text.strip()
    code = trimmed.upper()
    if not 1 <= len(code) <= OWN_CODE_LENGTH_MAX:
        raise OwnCodeError(
            f"A code has 1 to {OWN_CODE_LENGTH_MAX} characters.",
            text=code[: OWN_CODE_LENGTH_MAX * 2],
            length_max=OWN_CODE_LENGTH_MAX,
        )
    # Asked before upper case, which makes SS of a sharp s.
    if not trimmed.isascii() or not _OWN_CODE.fullmatch(code):
        raise OwnCodeError(
            "A code is made of A-Z, 0-9, hyphen and point, and begins and ends with a letter or "
            "digit.",
            text=code,
        )
    if code[0] in set(Prefix) and code[1:2] == "-":
        raise OwnCodeError(
            f"A code may not begin with {code[:2]}: the codes of a {noun(Prefix(code[0]))} do. "
            "Leave the hyphen out or put another letter before it.",
            text=code,
        )
    return code


def _number(symbols: str, prefix: Prefix) -> int | None:
    """The number in symbols with a check character; None when they are not ones `encode` makes."""
    if not set(symbols) <= set(ALPHABET):
        return None
    digits, check = symbols[:-1], symbols[-1]
    is_padded_too_far = len(symbols) > _SYMBOLS_MIN and digits.startswith(ALPHABET[0])
    if is_padded_too_far or check != check_character(prefix, digits):
        return None
    number = 0
    for symbol in digits:
        number = number * len(ALPHABET) + ALPHABET.index(symbol)
    return number
