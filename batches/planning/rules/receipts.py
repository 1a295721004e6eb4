"""When an open order is needed, against when it comes."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import Final, NamedTuple

WEEKS_EARLY: Final = 2
"""What comes this many weeks before it is needed is worth a word; common practice, no source."""


class Advice(StrEnum):
    """What to do about an open order."""

    EXPEDITE = "expedite"
    POSTPONE = "postpone"
    CANCEL = "cancel"


class Receipt(NamedTuple):
    """What is to come: the week, below 0 none; base units, > 0."""

    week: int
    qty_base: int


class Moved(NamedTuple):
    """A receipt that should come in another week; None: it is not needed at all."""

    advice: Advice
    week: int | None


def moved(receipts: Sequence[Receipt], short_base: Sequence[int]) -> list[Moved | None]:
    """What to do about each, in the order of weeks; None: it comes when it is needed.

    Args:
        receipts: Of one item, in the order of weeks.
        short_base: What is needed until each week beyond what is on hand, never falling.
    """
    found: list[Moved | None] = []
    before = 0
    for receipt in receipts:
        needed = next((week for week, base in enumerate(short_base) if base > before), None)
        before += receipt.qty_base
        if needed is None:
            found.append(Moved(Advice.CANCEL, None))
        elif needed < receipt.week:
            found.append(Moved(Advice.EXPEDITE, needed))
        elif needed >= receipt.week + WEEKS_EARLY:
            found.append(Moved(Advice.POSTPONE, needed))
        else:
            found.append(None)
    return found
