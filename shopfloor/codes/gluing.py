"""Where a scan may be two codes in a row: the second label was read before the first was sent off.

Only places to cut are found here; `scan.py` says whether both halves are codes.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from shopfloor.codes.gs1.elements import ElementString

# How a code begins: an address, a symbology identifier, a key in brackets or without, a code of
# ours; or a blank between two. An address behind `=` is a value in the query of another.
_BEGINS: Final = re.compile(
    r"(?:(?<!=)https?://|\][A-Za-z][0-9A-Za-z]|\(0[012]\)|0[012][0-9]{14}|[A-Z]-|\s)",
    re.IGNORECASE,
)
_SECOND_SYMBOL: Final = re.compile(r"\][A-Za-z][0-9].*\][ACEFGILPQdeo][0-9]", re.DOTALL)
_HEAD_MIN: Final = 2  # shorter is a slip
_ARTICLES: Final = frozenset({"01", "02"})


def cuts(text: str) -> Iterator[tuple[str, str]]:
    """The halves of every place at which a second code may begin."""
    for place in range(1, len(text)):
        if _BEGINS.match(text, place):
            yield text[:place], text[place:]


def tails(text: str) -> list[str]:
    """What may be a code that the shop gave, typed right behind another: it has a hyphen.

    Without one it may as well be the end of a lot that a supplier named.
    """
    return [
        text[place:]
        for place in range(_HEAD_MIN, len(text))
        if text[place - 1].isalnum() and text[place].isalnum() and "-" in text[place:]
    ]


def are_two_symbols(text: str) -> bool:
    """Whether a reader that says what it read said so twice (ISO/IEC 15424)."""
    return _SECOND_SYMBOL.match(text) is not None


def are_one(whole: ElementString | None, first: ElementString, second: ElementString) -> bool:
    """Whether two element strings in a row are one of one thing.

    A box has (00), then (02) for what is in it. No thing has a key twice, or (01) beside (02).

    Args:
        whole: Both as they came, read as one; None if that has a fault.
        first: What stands before the cut.
        second: What stands behind it.
    """
    if whole is None or whole.elements != (*first.elements, *second.elements):
        return False
    names = {element.ai for element in first.elements}
    others = {element.ai for element in second.elements}
    return not names & others and not names | others >= _ARTICLES
