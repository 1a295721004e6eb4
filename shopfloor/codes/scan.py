"""What a scanner or a person sent to a scan field: which kind of code it is, and what is in it.

Nothing is looked up here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final
from urllib.parse import unquote

from shopfloor.codes.alphabet import Prefix, decode, encode
from shopfloor.codes.errors import (
    CodeTypoError,
    CodeUnreadableError,
    ScanUnreadableError,
    TwoCodesError,
)
from shopfloor.codes.gluing import are_one, are_two_symbols, cuts
from shopfloor.codes.gs1.elements import (
    FNC1,
    GS1_SYMBOLOGIES,
    SYMBOLOGY,
    ElementString,
    read_elements,
)
from shopfloor.codes.gs1.links import DigitalLink, read_digital_link
from shopfloor.codes.gs1.numbers import (
    GTIN_LENGTHS,
    SSCC_LENGTH,
    checked_gtin,
    checked_sscc,
    is_restricted,
)
from shopfloor.errors import InvalidInputError

SCAN_LENGTH_MAX: Final = 500

SEPARATOR_SIGN: Final = "\u241d"
"""Stands for the separator of GS1 data where control characters do not pass: in a web address, and
on paper (Unicode, "symbol for group separator")."""

# The address our own labels carry, on whatever host the shop runs.
_ADDRESS: Final = re.compile(
    r"https?://[^/\s]+/(?:[^?#\s]*/)?s/([^/?#\s]+)/?(?:[?#]\S*)?", re.IGNORECASE
)
# A lot's code, the number from 2 on of one of several in a posting, and those of its parts.
_SPLIT: Final = re.compile(
    r"([A-Z]-?[A-Z0-9]+)((?:-(?:[2-9]|[1-9][0-9]{1,5}))?(?:\.[1-9][0-9]{0,8})*)"
)
_DIGITS: Final = re.compile(r"[0-9]+")
_BRACKETED: Final = re.compile(r"\([0-9]{2,4}\)")
# A GTIN or an SSCC first: what element strings without any other sign begin with.
_KEY_FIRST: Final = re.compile(r"(?:00[0-9]{18}|0[12][0-9]{14})")

_WITH_CAPS_LOCK: Final = {
    sign.swapcase(): sign for sign in ("C0", "C1", "d1", "d2", "J1", "Q1", "Q3")
}
"""What these symbology identifiers become where the keyboard's caps lock is on: others have none of
those letters (common practice, no source). Not so e0 and E0, which are two kinds of symbol."""
_EAN_13_LENGTH: Final = 13
_GTIN_LENGTH_MIN: Final = 12  # of one in a row with a code; eight digits may be a day
# An address in capitals with small letters behind its host.
_SHOUTED: Final = re.compile(r"HTTPS?://[^a-z/]+/[^A-Z]*[a-z][^A-Z]*")
_GLUED_MAX: Final = 4  # codes in one scan that are looked for


@dataclass(frozen=True, slots=True)
class Scan:
    """One scan, read.

    Attributes:
        text: What was sent, without symbology identifier, address and space around it.
        code: What to look up: one of our codes in its one form if `kind` is set, otherwise `text`
            in upper case, which may be the shop's own code; a supplier's lot keeps its `text`.
        kind: What our code names. None: free text.
        with_hyphen: Free text that would be one of our codes, had it a hyphen. To be looked up only
            when nothing has `code`: one short text in 28 fits by chance.
        is_mistyped: Free text with prefix and hyphen of ours, but a character is wrong. A slip,
            unless a supplier writes such codes.
        symbology: What the reader said it read, such as `C0` or `d2`; None if it did not.
        elements: GS1 data under application identifiers, of a symbol, brackets or a Digital Link.
        link: The Digital Link that held them.
        gtin: A GTIN, 14 digits, alone or in `elements` (01, 02). Alone it may by chance be a code
            of the shop or a supplier's lot. None for a number of restricted circulation.
        sscc: An SSCC, likewise.
    """

    text: str
    code: str
    kind: Prefix | None = None
    with_hyphen: str | None = None
    is_mistyped: bool = False
    symbology: str | None = None
    elements: ElementString | None = None
    link: DigitalLink | None = None
    gtin: str | None = None
    sscc: str | None = None


def read_scan(text: str) -> Scan:
    """Say what a scan is.

    Raises:
        ScanUnreadableError: nothing but space, or longer than `SCAN_LENGTH_MAX`.
        TwoCodesError: two codes in a row.
        InvalidInputError: GS1 data by every sign (the reader says so, a separator, brackets, a
            Digital Link), but with a fault; see `read_elements` and `read_digital_link`.
    """
    text = _stripped(text.replace(SEPARATOR_SIGN, FNC1))
    if len(text) <= SCAN_LENGTH_MAX and (are_two_symbols(text) or _is_glued(text)):
        raise two_codes(text)
    symbology, sent = _without_symbology(text)
    if len(sent) > SCAN_LENGTH_MAX:
        raise ScanUnreadableError(
            f"The scan has more than {SCAN_LENGTH_MAX} characters. Scan one label at a time.",
            length=len(sent),
            length_max=SCAN_LENGTH_MAX,
        )
    symbology, sent = _as_printed(symbology, sent)
    if address := _ADDRESS.fullmatch(sent):
        sent = unquote(address[1]).strip()
    if not sent.strip():
        raise ScanUnreadableError("The scan is empty. Scan again.")
    if link := read_digital_link(sent):
        return _gs1(sent, link.elements, symbology=symbology, link=link)
    if elements := _elements(sent, symbology=symbology):
        return _gs1(sent, elements, symbology=symbology)
    return _free(sent.strip(), symbology=symbology)


def two_codes(text: str) -> TwoCodesError:
    """The refusal of two labels in one scan."""
    shown = "".join(letter if letter.isprintable() else " " for letter in text[:90])
    return TwoCodesError(
        "Two codes at once: two labels came as one scan. Scan again, one label, and wait for its "
        "answer.",
        text=shown,
    )


def _as_printed(symbology: str | None, sent: str) -> tuple[str | None, str]:
    """The letters as they stand on the label, where it is sure that caps lock turned them."""
    if symbology in _WITH_CAPS_LOCK:
        return _WITH_CAPS_LOCK[symbology], _turned(sent)
    if symbology == "E0" and len(sent) > _EAN_13_LENGTH and _sound_elements(sent):
        return "e0", _turned(sent)
    if symbology == "e0" and len(sent) == _EAN_13_LENGTH and _bare_number(sent)[0]:
        return "E0", sent
    if symbology is None and _SHOUTED.fullmatch(sent):
        return None, _turned(sent)
    return symbology, sent


def _turned(sent: str) -> str:
    return sent.swapcase() if sent.isascii() else sent


def _is_glued(text: str, *, codes_max: int = _GLUED_MAX) -> bool:
    """Whether it is codes in a row, each sound: then none is the one meant."""
    if codes_max < 2 or _is_own_code(text):  # noqa: PLR2004 - two codes
        return False
    for first, second in cuts(text):
        if not _is_code(first) or not (
            _is_code(second) or _is_glued(second.strip(), codes_max=codes_max - 1)
        ):
            continue
        one, other = _sound_elements(first), _sound_elements(second)
        if one and other and are_one(_sound_elements(text), one, other):
            continue
        return True
    return False


def _is_code(text: str) -> bool:
    """Whether a text is by itself a code that labels carry: no free text, whatever it is."""
    _, sent = _without_symbology(_stripped(text))
    if _ADDRESS.fullmatch(sent) or _is_own_code(sent) or _sound_elements(text):
        return True
    if len(sent) >= _GTIN_LENGTH_MIN and _bare_number(sent)[0]:
        return True
    try:
        return read_digital_link(sent) is not None
    except InvalidInputError:
        return False


def _is_own_code(text: str) -> bool:
    try:
        _our_code(text.strip().upper())
    except InvalidInputError:
        return False
    return text.strip()[1:2] == "-"


def _sound_elements(text: str) -> ElementString | None:
    """The element string that a text is without a fault, and by its look; else None."""
    symbology, sent = _without_symbology(_stripped(text))
    is_told = symbology in GS1_SYMBOLOGIES
    if not (is_told or _KEY_FIRST.match(sent.removeprefix(FNC1)) or _BRACKETED.match(sent)):
        return None
    try:
        return read_elements(sent)
    except InvalidInputError:
        return None


def _stripped(text: str) -> str:
    """Without space around it; a separator of GS1 data counts as space elsewhere, but not here."""
    blanks = "".join(letter for letter in set(text) if letter.isspace() and letter != FNC1)
    return text.strip(blanks) if blanks else text


def _without_symbology(sent: str) -> tuple[str | None, str]:
    if identified := SYMBOLOGY.match(sent):
        return identified[1], _stripped(sent[identified.end() :])
    return None, sent


def _elements(sent: str, *, symbology: str | None) -> ElementString | None:
    """GS1 data, or None where it can be something else as well as GS1 data with a fault in it."""
    if symbology in GS1_SYMBOLOGIES or FNC1 in sent.strip(FNC1) or _BRACKETED.match(sent):
        return read_elements(sent)
    if symbology is None and _KEY_FIRST.match(sent):
        try:
            return read_elements(sent)
        except InvalidInputError:
            return None
    return None


def _gs1(
    sent: str, elements: ElementString, *, symbology: str | None, link: DigitalLink | None = None
) -> Scan:
    text = sent.strip()
    lot_code = elements.value("10")
    if lot_code and _is_glued(lot_code):
        raise two_codes(text)
    return Scan(
        text=text,
        code=text.upper(),
        symbology=symbology,
        elements=elements,
        link=link,
        gtin=elements.value("01") or elements.value("02"),
        sscc=elements.value("00"),
    )


def _free(sent: str, *, symbology: str | None) -> Scan:
    code = sent.upper()
    has_hyphen = code[1:2] == "-"
    try:
        kind, ours = _our_code(code)
    except CodeTypoError:
        return Scan(text=sent, code=code, is_mistyped=has_hyphen, symbology=symbology)
    except CodeUnreadableError:
        gtin, sscc = _bare_number(sent)
        return Scan(text=sent, code=code, symbology=symbology, gtin=gtin, sscc=sscc)
    if not has_hyphen:
        return Scan(text=sent, code=code, with_hyphen=ours, symbology=symbology)
    return Scan(text=sent, code=ours, kind=kind, symbology=symbology)


def _bare_number(sent: str) -> tuple[str | None, str | None]:
    """A GTIN or SSCC with nothing around it; with a wrong check digit it is just digits."""
    if not _DIGITS.fullmatch(sent) or len(sent) not in {*GTIN_LENGTHS, SSCC_LENGTH}:
        return None, None
    try:
        number = checked_sscc(sent) if len(sent) == SSCC_LENGTH else checked_gtin(sent)
    except InvalidInputError:
        return None, None
    if is_restricted(number):
        return None, None
    return (None, number) if len(sent) == SSCC_LENGTH else (number, None)


def _our_code(code: str) -> tuple[Prefix, str]:
    split = _SPLIT.fullmatch(code)
    whole, rest = (code, "") if split is None else (split[1], split[2])
    kind, number = decode(whole)
    if rest and kind is not Prefix.LOT:
        raise CodeUnreadableError("Only a lot can be a part of another.", text=code)
    return kind, encode(number, kind) + rest
