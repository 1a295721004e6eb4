"""What a scanner or a person sent to a scan field: which kind of code it looks like.

Nothing is looked up here. Data under GS1 application identifiers is passed on unread.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final
from urllib.parse import unquote

from shopfloor.codes.alphabet import Prefix, decode, encode
from shopfloor.codes.errors import CodeTypoError, CodeUnreadableError, ScanUnreadableError

SCAN_LENGTH_MAX: Final = 500

# Symbology identifier that a reader may send first, ISO/IEC 15424: "]", a letter, a modifier.
_SYMBOLOGY: Final = re.compile(r"\]([A-Za-z][0-9A-Za-z])")
# The address our own labels carry, on whatever host the shop runs.
_ADDRESS: Final = re.compile(
    r"https?://[^/\s]+/(?:[^?#\s]*/)?s/([^/?#\s]+)/?(?:[?#]\S*)?", re.IGNORECASE
)
# A lot's code, the number from 2 on of one of several in a posting, and those of its parts.
_SPLIT: Final = re.compile(
    r"([A-Z]-?[A-Z0-9]+)((?:-(?:[2-9]|[1-9][0-9]{1,5}))?(?:\.[1-9][0-9]{0,8})*)"
)


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
    """

    text: str
    code: str
    kind: Prefix | None = None
    with_hyphen: str | None = None
    is_mistyped: bool = False
    symbology: str | None = None


def read_scan(text: str) -> Scan:
    """Say which kind of code a scan looks like.

    Raises:
        ScanUnreadableError: nothing but space, or longer than `SCAN_LENGTH_MAX`.
    """
    sent = text.strip()
    if len(sent) > SCAN_LENGTH_MAX:
        raise ScanUnreadableError(
            f"The scan has more than {SCAN_LENGTH_MAX} characters. Scan one label at a time.",
            length=len(sent),
            length_max=SCAN_LENGTH_MAX,
        )
    symbology = None
    if identified := _SYMBOLOGY.match(sent):
        symbology = identified[1]
        sent = sent[identified.end() :].strip()
    if address := _ADDRESS.fullmatch(sent):
        sent = unquote(address[1]).strip()
    if not sent:
        raise ScanUnreadableError("The scan is empty. Scan again.")
    return _read(sent, symbology=symbology)


def _read(sent: str, *, symbology: str | None) -> Scan:
    code = sent.upper()
    has_hyphen = code[1:2] == "-"
    try:
        kind, ours = _our_code(code)
    except CodeTypoError:
        return Scan(text=sent, code=code, is_mistyped=has_hyphen, symbology=symbology)
    except CodeUnreadableError:
        return Scan(text=sent, code=code, symbology=symbology)
    if not has_hyphen:
        return Scan(text=sent, code=code, with_hyphen=ours, symbology=symbology)
    return Scan(text=sent, code=ours, kind=kind, symbology=symbology)


def _our_code(code: str) -> tuple[Prefix, str]:
    split = _SPLIT.fullmatch(code)
    whole, rest = (code, "") if split is None else (split[1], split[2])
    kind, number = decode(whole)
    if rest and kind is not Prefix.LOT:
        raise CodeUnreadableError("Only a lot can be a part of another.", text=code)
    return kind, encode(number, kind) + rest
