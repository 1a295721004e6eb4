"""Where every piece of an item is: what came to be, what left, what is here, what is missing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from typing import Final, Protocol


class Change(Protocol):
    """What came into a lot and went out of it by postings of one kind; base units, >= 0."""

    @property
    def kind(self) -> str:
        """Of the postings."""

    @property
    def came_in_base(self) -> int:
        """What came in."""

    @property
    def went_out_base(self) -> int:
        """What went out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """Base units of one item; `unexplained` is what counts and adjustments did not find.

    Attributes:
        received: Bought or taken over.
        made: By runs and mixes.
        parted: Split off lots that are not looked at, less what was split off to such lots.
        used: In runs and mixes; what these scrapped was used.
        disposed: Thrown away from the shelf.
        sent_back: To suppliers.
        shipped: To customers.
        returned: By customers.
        unexplained: Below zero where more was found than the books had.
        free: On hand, released.
        stopped: On hand, held, rejected or quarantined.
    """

    received: int = 0
    made: int = 0
    parted: int = 0
    used: int = 0
    disposed: int = 0
    sent_back: int = 0
    shipped: int = 0
    returned: int = 0
    unexplained: int = 0
    free: int = 0
    stopped: int = 0

    def __add__(self, other: Balance) -> Balance:
        """Of both together."""
        sums = {name: getattr(self, name) + getattr(other, name) for name in FIGURES}
        return Balance(**sums)

    @property
    def on_hand(self) -> int:
        """What is here."""
        return self.free + self.stopped

    @property
    def is_even(self) -> bool:
        """Whether what came in less what went out is here: to the piece."""
        came_in = self.received + self.made + self.parted + self.returned
        went_out = self.used + self.disposed + self.sent_back + self.shipped + self.unexplained
        return came_in - went_out == self.on_hand


FIGURES: Final = tuple(field.name for field in fields(Balance))


def balance_of(changes: Iterable[Change], *, free_base: int, stopped_base: int) -> Balance:
    """The balance of one lot, or of several together.

    Args:
        changes: By kind of posting, without what was reversed.
        free_base: What they hold, released.
        stopped_base: What they hold, held, rejected or quarantined.
    """
    came: dict[str, int] = {}
    went: dict[str, int] = {}
    for change in changes:
        came[change.kind] = came.get(change.kind, 0) + change.came_in_base
        went[change.kind] = went.get(change.kind, 0) + change.went_out_base

    def into(*kinds: str) -> int:
        return sum(came.get(kind, 0) for kind in kinds)

    def out(*kinds: str) -> int:
        return sum(went.get(kind, 0) for kind in kinds)

    return Balance(
        received=into("received"),
        made=into("made", "mixed"),
        parted=into("split", "moved") - out("split", "moved"),
        used=out("made", "mixed"),
        disposed=out("disposed"),
        sent_back=out("returned"),
        shipped=out("shipped"),
        returned=into("returned"),
        unexplained=out("counted", "adjusted") - into("counted", "adjusted"),
        free=free_base,
        stopped=stopped_base,
    )
