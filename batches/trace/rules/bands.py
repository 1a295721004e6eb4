"""Exposures by name, and noted values as bands of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from typing import Final, NamedTuple

AGE: Final = "age"
LEVELS_MAX: Final = 6
"""A number noted with more values than this is put into bands."""
BANDS: Final = 3


class Exposure(NamedTuple):
    """What a piece went through.

    Attributes:
        kind: `lot`, `supplier`, `person`, a kind of equipment, the name of a factor ...
        name: Which of its kind.
        together: Others that always went with it: nothing can tell them apart.
    """

    kind: str
    name: str
    together: tuple[Exposure, ...] = ()

    @property
    def words(self) -> str:
        """As people say it: `lot ADH-7`, `station W2-7`."""
        return f"{self.kind} {self.name}"

    def with_another(self, other: Exposure) -> Exposure:
        """The same, and one more that went with it."""
        return Exposure(self.kind, self.name, (*self.together, other))


def band_names(values: Mapping[int, str]) -> dict[int, str]:
    """The band of each value: itself, or a third of the numbers there are, like `41 to 55`.

    Args:
        values: As noted, by entry.
    """
    numbers = {key: _number(text) for key, text in values.items()}
    known = sorted({number for number in numbers.values() if number is not None})
    if None in numbers.values() or len(known) <= LEVELS_MAX:
        return dict(values)
    ordered = sorted(number for number in numbers.values() if number is not None)
    cuts = [ordered[len(ordered) * part // BANDS] for part in range(1, BANDS)]
    members: dict[int, list[Decimal]] = {}
    for number in known:
        members.setdefault(_band(number, cuts), []).append(number)
    return {
        key: f"{members[band][0]} to {members[band][-1]}"
        for key, band in ((key, _band(number, cuts)) for key, number in numbers.items())
    }


def _band(number: Decimal | None, cuts: Sequence[Decimal]) -> int:
    assert number is not None
    return sum(number >= cut for cut in cuts)


def _number(text: str) -> Decimal | None:
    try:
        number = Decimal(text.strip().rstrip("%").strip())
    except InvalidOperation:
        return None
    return number if number.is_finite() else None
