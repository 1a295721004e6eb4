"""Tables of single sampling after MIL-STD-105E (10 May 1989, public domain), as data.

Code letters (its Table I) and single sampling, normal (II-A), were checked cell by cell against a
copy, `tests/published/sampling_*.csv`. Tightened (II-B) and reduced (II-C) are made from the normal
one by the standard's own pattern: tightened stands one letter further down with acceptance numbers
of its own, reduced has smaller samples and a gap between accept and reject. That pattern is from
memory, no copy was at hand; see docs/checks.md.
"""

from __future__ import annotations

from typing import Final, NamedTuple

LETTERS: Final = "ABCDEFGHJKLMNPQR"

_AQLS: Final = "0.065 0.10 0.15 0.25 0.40 0.65 1.0 1.5 2.5 4.0 6.5 10"
AQLS: Final = tuple(_AQLS.split())
"""Acceptable quality levels: failing pieces in a hundred that are still taken as good enough."""

LEVELS: Final = ("S1", "S2", "S3", "S4", "I", "II", "III")
"""How large the sample is for a lot, smallest first; II where nothing speaks for another."""

LOT_MIN: Final = 2
_LOT_MAX: Final = (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10000, 35000, 150000, 500000)
_LETTERS_BY_LEVEL: Final = {
    "I": "AABCCDEFGHJKLMN",
    "II": "ABCDEFGHJKLMNPQ",
    "III": "BCDEFGHJKLMNPQR",
    "S1": "AAAABBBBCCCCDDD",
    "S2": "AAABBBCCCDDDEEE",
    "S3": "AABBCCDDEEFFGGH",
    "S4": "AABCCDEEFGGHJJK",
}

SIZES: Final = (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000)
REDUCED_SIZES: Final = (2, 2, 2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800)

# A diagonal of II-A: the plan of no failing piece, two cells of arrows, then these.
_NORMAL: Final = (1, 2, 3, 5, 7, 10, 14, 21)
_TIGHTENED: Final = (1, 2, 3, 5, 8, 12, 18)
# Accept and reject of reduced inspection, by the acceptance number of the normal one.
_REDUCED: Final = {
    0: (0, 1),
    1: (0, 2),
    2: (1, 3),
    3: (1, 4),
    5: (2, 5),
    7: (3, 6),
    10: (5, 8),
    14: (7, 10),
    21: (10, 13),
}
_ZERO_ROW: Final = 10  # of L, where the first column has its plan of no failing piece


class Cell(NamedTuple):
    """A plan of a table: its letter's place, and what passes and fails.

    Attributes:
        row: Index into `LETTERS`.
        accept: Most failing pieces with which a lot passes.
        reject: Fewest with which it fails; in between, on reduced, it passes and ends reduced.
    """

    row: int
    accept: int
    reject: int


def letter_row(*, lot_size: int, level: str) -> int:
    """The row of a lot's code letter.

    Args:
        lot_size: Pieces, at least 1; one piece counts as the smallest lot.
        level: One of `LEVELS`.
    """
    assert lot_size >= 1
    place = sum(lot_size > most for most in _LOT_MAX)
    return LETTERS.index(_LETTERS_BY_LEVEL[level][place])


def cell(*, row: int, aql: str, severity: str) -> Cell:
    """The plan of a row and a level, arrows followed.

    Args:
        row: Of a code letter.
        aql: One of `AQLS`.
        severity: normal, tightened or reduced.
    """
    accepts = _TIGHTENED if severity == "tightened" else _NORMAL
    zero = _ZERO_ROW - AQLS.index(aql) + (severity == "tightened")
    row, accept = _follow(row - zero, zero, accepts)
    if severity == "reduced":
        return Cell(row, *_REDUCED[accept])
    return Cell(row, accept, accept + 1)


def _follow(step: int, zero: int, accepts: tuple[int, ...]) -> tuple[int, int]:
    """Row and acceptance number, `step` rows below the plan of no failing piece at row `zero`.

    Above that plan arrows point down to it; below it one points up to it and one down to the plan
    of one failing piece; below the last they point up.
    """
    # At 10 it would stand above A on normal, and on tightened at A itself, which no copy at hand
    # shows: there the arrow down is followed, to more pieces that pass as often.
    has_zero = zero >= 0 and (zero > 0 or accepts is _NORMAL)
    if step <= 1 and has_zero:
        return zero, 0
    first = zero + 3  # two rows of arrows lie between none and one
    place = min(max(zero + step - first, 0), len(accepts) - 1)
    return first + place, accepts[place]
