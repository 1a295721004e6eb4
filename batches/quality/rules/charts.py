"""Control charts of Shewhart's kind: points, center, limits three standard errors off.

`runs` says which points stand out. Figures are floats: statistics, never stored.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from shopfloor.errors import InvalidInputError

SIGMAS: Final = 3


class RangeConstants(NamedTuple):
    """Of a subgroup of so many normal values: mean and spread of its range, in sigmas."""

    d2: float
    d3: float


RANGES: Final = {
    2: RangeConstants(1.1284, 0.8525),
    3: RangeConstants(1.6926, 0.8884),
    4: RangeConstants(2.0588, 0.8798),
    5: RangeConstants(2.3259, 0.8641),
    6: RangeConstants(2.5344, 0.8480),
    7: RangeConstants(2.7044, 0.8332),
    8: RangeConstants(2.8472, 0.8198),
    9: RangeConstants(2.9700, 0.8078),
    10: RangeConstants(3.0775, 0.7971),
}
"""By subgroup size. ASTM MNL 7, recomputed by integrating the range's distribution."""

SUBGROUP_MAX: Final = max(RANGES)


class TooFewPointsError(InvalidInputError):
    """There is nothing to draw limits from."""

    code = "too_few_points"


class ChartPoint(NamedTuple):
    """A point and its own limits.

    Attributes:
        value: In the chart's unit.
        lower: None where nothing can fall below it.
        upper: None where nothing can rise above it.
        sigma: Standard error of this point; 0 where all are alike.
    """

    value: float
    lower: float | None
    upper: float | None
    sigma: float


@dataclass(frozen=True, slots=True)
class Chart:
    """One chart.

    Attributes:
        kind: p, np, c, u, p_prime, u_prime, individuals, moving_range, mean or range.
        center: The line the points lie about.
        points: Oldest first; None where a moving range has no value yet.
        sigma_within: Spread of single values inside subgroups; None for attributes.
        times_wider: Of p_prime and u_prime: than the limits of p or u.
    """

    kind: str
    center: float
    points: Sequence[ChartPoint | None]
    sigma_within: float | None = None
    times_wider: float | None = None


def p_chart(failed: Sequence[int], tested: Sequence[int]) -> Chart:
    """Share of failing pieces; sample sizes may differ, and limits with them.

    Args:
        failed: Failing pieces of each sample.
        tested: Pieces of each sample, at least 1.
    """
    _refuse_too_few(failed, at_least=1)
    center = sum(failed) / sum(tested)
    points = [
        _point(bad / size, center, math.sqrt(center * (1 - center) / size), floor=0, ceiling=1)
        for bad, size in zip(failed, tested, strict=True)
    ]
    return Chart("p", center, points)


def np_chart(failed: Sequence[int], *, tested: int) -> Chart:
    """Failing pieces of samples of one size."""
    _refuse_too_few(failed, at_least=1)
    ratio = sum(failed) / (tested * len(failed))
    center = tested * ratio
    sigma = math.sqrt(center * (1 - ratio))
    points = [_point(bad, center, sigma, floor=0, ceiling=tested) for bad in failed]
    return Chart("np", center, points)


def c_chart(flaws: Sequence[int]) -> Chart:
    """Flaws of samples of one size."""
    _refuse_too_few(flaws, at_least=1)
    center = sum(flaws) / len(flaws)
    points = [_point(each, center, math.sqrt(center), floor=0) for each in flaws]
    return Chart("c", center, points)


def u_chart(flaws: Sequence[int], tested: Sequence[int]) -> Chart:
    """Flaws a piece; sample sizes may differ."""
    _refuse_too_few(flaws, at_least=1)
    center = sum(flaws) / sum(tested)
    points = [
        _point(each / size, center, math.sqrt(center / size), floor=0)
        for each, size in zip(flaws, tested, strict=True)
    ]
    return Chart("u", center, points)


def individuals_charts(values: Sequence[float]) -> tuple[Chart, Chart]:
    """Single values, and how far each is from the one before it.

    Raises:
        TooFewPointsError: fewer than two values.
    """
    _refuse_too_few(values, at_least=2)
    ranges = [abs(after - before) for before, after in itertools.pairwise(values)]
    range_mean = math.fsum(ranges) / len(ranges)
    constants = RANGES[2]
    sigma = range_mean / constants.d2
    center = math.fsum(values) / len(values)
    points = [_point(value, center, sigma) for value in values]
    moving: list[ChartPoint | None] = [
        _point(each, range_mean, constants.d3 * sigma, floor=0) for each in ranges
    ]
    return (
        Chart("individuals", center, points, sigma),
        Chart("moving_range", range_mean, [None, *moving], sigma),
    )


def mean_charts(subgroups: Sequence[Sequence[float]]) -> tuple[Chart, Chart]:
    """Means and ranges of subgroups of one size, X-bar and R.

    Args:
        subgroups: Each of the same 2 to `SUBGROUP_MAX` values.
    """
    _refuse_too_few(subgroups, at_least=1)
    size = len(subgroups[0])
    constants = RANGES[size]
    means = [math.fsum(values) / size for values in subgroups]
    ranges = [max(values) - min(values) for values in subgroups]
    center = math.fsum(means) / len(means)
    range_mean = math.fsum(ranges) / len(ranges)
    sigma = range_mean / constants.d2
    return (
        Chart(
            "mean",
            center,
            [_point(value, center, sigma / math.sqrt(size)) for value in means],
            sigma,
        ),
        Chart(
            "range",
            range_mean,
            [_point(value, range_mean, constants.d3 * sigma, floor=0) for value in ranges],
            sigma,
        ),
    )


def _point(
    value: float,
    center: float,
    sigma: float,
    *,
    floor: float | None = None,
    ceiling: float | None = None,
) -> ChartPoint:
    lower, upper = center - SIGMAS * sigma, center + SIGMAS * sigma
    return ChartPoint(
        value=value,
        lower=None if floor is not None and lower < floor else lower,
        upper=None if ceiling is not None and upper > ceiling else upper,
        sigma=sigma,
    )


def _refuse_too_few(rows: Sequence[object], *, at_least: int) -> None:
    if len(rows) < at_least:
        raise TooFewPointsError(
            f"A chart needs at least {at_least} checks; there are {len(rows)} in these days. "
            "Choose a longer time.",
            checks=len(rows),
            at_least=at_least,
        )
