"""What papers about lots and places say: hold tags, shelf labels, count sheets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

from batches.labels.rules.papers import Paper

HOLD_ADVICE: Final = "Do not use, move or ship. Only a lead releases it."
"""On every hold tag."""


class HoldReason(NamedTuple):
    """One hold on a lot that is not released.

    Attributes:
        hold: Its code.
        why: As the person wrote it.
        since: The shop's day and time: `2026-03-02 09:00`.
        by: Name of the person.
        source: The lot that the hold was placed on, where that is another: this one came of it.
    """

    hold: str
    why: str
    since: str
    by: str
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldTag(Paper):
    """A tag for a lot that is on hold; `code` is the lot's.

    Attributes:
        amount: What there is of it, in the unit people see.
        place: Code of the place where the books say that it stands.
        reasons: Every open hold on it, oldest first; at least one.
    """

    item: str
    item_name: str
    amount: str
    place: str
    reasons: tuple[HoldReason, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfLabel(Paper):
    """What stands on a shelf: a place, or an item at the place where it is kept.

    Attributes:
        name: Of the place or item.
        place: Code of the place where an item is kept; empty for a place, or if it has none.
        hint: When to order more, where somebody set it; or empty.
    """

    name: str
    place: str = ""
    hint: str = ""


class CountLine(NamedTuple):
    """A lot to be counted. Its amount stays unsaid, so that it is counted and not confirmed.

    Attributes:
        unit: The unit that people count this item in.
        place: Code of its place, on a sheet of an item; else empty.
    """

    lot: str
    item: str
    item_name: str
    unit: str
    place: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CountSheet(Paper):
    """What to count at a place, or of an item wherever it stands; `code` is its.

    Attributes:
        kind: `place` or `item`.
        name: Of the place or item.
        printed_at: The shop's day and time that the lots were read.
        lines: None: the books know of nothing there.
    """

    kind: str
    name: str
    printed_at: str
    lines: tuple[CountLine, ...] = ()
