"""Rules that say which points of a control chart stand out, each by its name.

Source: Western Electric, Statistical Quality Control Handbook (1956); L. S. Nelson, "The Shewhart
Control Chart: Tests for Special Causes", J. Quality Technology 16(4), 1984; both from memory.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from typing import Final, NamedTuple

from batches.quality.rules.charts import SIGMAS, Chart

BEYOND_LIMITS: Final = "beyond_limits"


class Fired(NamedTuple):
    """A rule that fired, and where.

    Attributes:
        rule: One of `RULES`.
        first: Index of the first point it looked at.
        last: Index of the point at which it fired.
    """

    rule: str
    first: int
    last: int


class Rule(NamedTuple):
    """A rule that looks at so many points in a row.

    Attributes:
        words: What it says.
        length: Points it looks at.
        is_met: Asked of that many distances from the center, in sigmas.
    """

    words: str
    length: int
    is_met: Callable[[Sequence[float]], bool]


def _some_beyond(at_least: int, sigmas: float) -> Callable[[Sequence[float]], bool]:
    """So many of them beyond so many sigmas, on one side, the last among them."""

    def is_met(row: Sequence[float]) -> bool:
        side = 1 if row[-1] > 0 else -1
        return side * row[-1] > sigmas and sum(side * z > sigmas for z in row) >= at_least

    return is_met


def _one_side(row: Sequence[float]) -> bool:
    return all(z > 0 for z in row) or all(z < 0 for z in row)


def _trend(row: Sequence[float]) -> bool:
    steps = [after - before for before, after in itertools.pairwise(row)]
    return all(step > 0 for step in steps) or all(step < 0 for step in steps)


def _alternating(row: Sequence[float]) -> bool:
    steps = [after - before for before, after in itertools.pairwise(row)]
    return all(a * b < 0 for a, b in itertools.pairwise(steps))


def _near_center(row: Sequence[float]) -> bool:
    return all(abs(z) < 1 for z in row)


def _off_center(row: Sequence[float]) -> bool:
    return all(abs(z) > 1 for z in row)


RULES: Final = {
    BEYOND_LIMITS: Rule("A point beyond its limit.", 1, lambda row: abs(row[0]) > SIGMAS),
    "two_of_three": Rule(
        "Two of three points in a row beyond two sigmas on one side.", 3, _some_beyond(2, 2)
    ),
    "four_of_five": Rule(
        "Four of five points in a row beyond one sigma on one side.", 5, _some_beyond(4, 1)
    ),
    "nine_one_side": Rule("Nine points in a row on one side of the center.", 9, _one_side),
    "six_trend": Rule("Six points in a row, each higher or each lower than the last.", 6, _trend),
    "fourteen_alternate": Rule("Fourteen points in a row, up and down by turns.", 14, _alternating),
    "fifteen_near": Rule(
        "Fifteen points in a row within one sigma: limits too wide, or two streams in one.",
        15,
        _near_center,
    ),
    "eight_off": Rule("Eight points in a row beyond one sigma, on either side.", 8, _off_center),
}

RANGE_KINDS: Final = frozenset({"range", "moving_range"})
"""Charts of spread, of which only points beyond a limit are told: their runs are no news."""


def fired(chart: Chart) -> list[Fired]:
    """Every rule that fired, by the point at which it did; a rule that goes on fires once.

    A point beyond a limit is told each time.
    """
    distances = [
        None if point is None else _distance(point.value - chart.center, point.sigma)
        for point in chart.points
    ]
    names = [BEYOND_LIMITS] if chart.kind in RANGE_KINDS else list(RULES)
    found = [hit for name in names for hit in _hits(name, RULES[name], distances)]
    return sorted(found, key=lambda hit: (hit.last, list(RULES).index(hit.rule)))


def _hits(name: str, rule: Rule, distances: Sequence[float | None]) -> list[Fired]:
    hits = []
    was_met = False
    for last in range(rule.length - 1, len(distances)):
        first = last - rule.length + 1
        row = [z for z in distances[first : last + 1] if z is not None]
        is_met = len(row) == rule.length and rule.is_met(row)
        if is_met and (not was_met or name == BEYOND_LIMITS):
            hits.append(Fired(name, first, last))
        was_met = is_met
    return hits


def _distance(off: float, sigma: float) -> float:
    """In sigmas; nothing where all points are alike.

    Rounded, so that a point on its limit is not beyond it by what floats lose.
    """
    return round(off / sigma, 9) if sigma else 0.0
