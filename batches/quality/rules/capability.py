"""What a process can hold: how its spread compares with the limits of a measured check."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

Z_95: Final = 1.959963984540054
_ALPHA: Final = 0.05
VALUES_MIN: Final = 2
WELL_KNOWN_MIN: Final = 30
"""Below so many values an index says little; common practice, no source."""


class Index(NamedTuple):
    """A capability index and its 95 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Capability:
    """Indices of a process.

    `cp` and `cpk` take the spread inside subgroups, what the process could hold if nothing moved
    it; `pp` and `ppk` the spread of all values, what it held. None where a limit is missing or all
    values are alike.
    """

    count: int
    mean: float
    sigma_within: float
    sigma_overall: float
    cp: Index | None
    cpk: Index | None
    pp: Index | None
    ppk: Index | None


def capability(
    values: Sequence[float],
    *,
    lower: float | None,
    upper: float | None,
    sigma_within: float,
    freedom_within: float,
) -> Capability | None:
    """Indices of the values against the limits; None for fewer than two values or no limit.

    Args:
        values: All of them, in the limits' unit.
        lower: Least that passes.
        upper: Most that passes, above `lower`.
        sigma_within: From the ranges of a chart.
        freedom_within: Degrees of freedom of that; see `freedom_of_ranges`.
    """
    if len(values) < VALUES_MIN or (lower is None and upper is None):
        return None
    mean = math.fsum(values) / len(values)
    overall = math.sqrt(math.fsum((each - mean) ** 2 for each in values) / (len(values) - 1))
    count, freedom = len(values), len(values) - 1.0
    return Capability(
        count=count,
        mean=mean,
        sigma_within=sigma_within,
        sigma_overall=overall,
        cp=_both_sides(lower, upper, sigma_within, freedom_within),
        cpk=_nearest_side(mean, lower, upper, sigma_within, count, freedom_within),
        pp=_both_sides(lower, upper, overall, freedom),
        ppk=_nearest_side(mean, lower, upper, overall, count, freedom),
    )


def freedom_of_ranges(*, subgroups: int, size: int) -> float:
    """Degrees of freedom of a spread taken from ranges: 0.9 k (n - 1).

    Source: A. F. Bissell, "How Reliable is Your Capability Index?", Applied Statistics 39(3), 1990,
    from memory; a test draws it.
    """
    return 0.9 * subgroups * (size - 1)


def freedom_of_moving_ranges(count: int) -> float:
    """The same of moving ranges of single values: 0.62 (n - 1), from memory; a test draws it."""
    return 0.62 * (count - 1)


def _both_sides(
    lower: float | None, upper: float | None, sigma: float, freedom: float
) -> Index | None:
    """Cp: width of the limits in six sigmas.

    Source of the interval: NIST/SEMATECH e-Handbook, 6.1.6, from memory.
    """
    if lower is None or upper is None or not sigma or freedom <= 0:
        return None
    from scipy.special import chdtri  # noqa: PLC0415 - heavy, and not needed to start

    value = (upper - lower) / (6 * sigma)
    low = value * math.sqrt(chdtri(freedom, 1 - _ALPHA / 2) / freedom)
    high = value * math.sqrt(chdtri(freedom, _ALPHA / 2) / freedom)
    return Index(value, float(low), float(high))


def _nearest_side(
    mean: float,
    lower: float | None,
    upper: float | None,
    sigma: float,
    count: int,
    freedom: float,
) -> Index | None:
    """Cpk: distance from the mean to the nearer limit in three sigmas.

    Source of the interval: A. F. Bissell, as above; NIST/SEMATECH e-Handbook, 6.1.6, from memory.
    """
    if not sigma or freedom <= 0:
        return None
    off = [] if lower is None else [mean - lower]
    off += [] if upper is None else [upper - mean]
    value = min(off) / (3 * sigma)
    half = Z_95 * math.sqrt(1 / (9 * count) + value**2 / (2 * freedom))
    return Index(value, value - half, value + half)
