"""Charts of samples that differ more than chance makes single pieces: wider limits.

Pieces of one lot are alike. With large samples the limits of a p or u chart then lie so close that
half of all points are beyond them, though nothing has changed.
"""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Final

from batches.quality.rules.capability import freedom_of_moving_ranges
from batches.quality.rules.charts import RANGES, SIGMAS, Chart, ChartPoint

POINTS_MIN: Final = 20
"""Of fewer, one bad lot would pass for many that differ; common practice, no source."""
_ALPHA: Final = 0.01
"""How often points that differ by chance alone get wider limits."""


def widened(chart: Chart, *, points_min: int = POINTS_MIN) -> Chart | None:
    """The p' or u' chart beside a p or u chart; None where the points do not ask for it.

    How far each point is from the center, in its own standard errors, varies from one to the next
    as 1 does by chance. Where it varies more, beyond chance, all limits are as many times wider.

    Args:
        chart: Of `p_chart` or `u_chart`.
        points_min: Fewest points that can ask for it.

    Source: D. B. Laney, "Improved Control Charts for Attributes", Quality Engineering 14(4), 2002,
    531-537. When the widening is beyond chance is ours: moving ranges of normal values.
    """
    assert chart.kind in {"p", "u"}
    points = [point for point in chart.points if point is not None and point.sigma]
    if len(points) < max(2, points_min):
        return None
    distances = [(point.value - chart.center) / point.sigma for point in points]
    ranges = [abs(after - before) for before, after in itertools.pairwise(distances)]
    times = sum(ranges) / len(ranges) / RANGES[2].d2
    if times <= _usual_most(len(points)):
        return None
    return replace(
        chart,
        kind=f"{chart.kind}_prime",
        points=[point and _wider(point, chart, times) for point in chart.points],
        times_wider=times,
    )


def _usual_most(count: int) -> float:
    """What chance alone makes of 1 in so many points, but in one of a hundred cases."""
    from scipy.special import chdtri  # noqa: PLC0415 - heavy, and not needed to start

    freedom = freedom_of_moving_ranges(count)
    return float((chdtri(freedom, _ALPHA) / freedom) ** 0.5)


def _wider(point: ChartPoint, chart: Chart, times: float) -> ChartPoint:
    sigma = point.sigma * times
    lower, upper = chart.center - SIGMAS * sigma, chart.center + SIGMAS * sigma
    return ChartPoint(
        value=point.value,
        lower=None if lower < 0 else lower,
        upper=None if chart.kind == "p" and upper > 1 else upper,
        sigma=sigma,
    )
