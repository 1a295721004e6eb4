"""Stock of the coming days at the use forecast, and how far off that may be."""

from __future__ import annotations

import math
from collections.abc import Mapping
from statistics import NormalDist
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from inventory.reorder.rules.forecast import Forecast

BAND: Final = 0.9
"""Share of outcomes within the band, were use normal."""

DAYS_MIN: Final = 28
DAYS_MAX: Final = 366
POINTS_MAX: Final = 60
"""Of a course, so that it can be drawn; an arrival always has its own."""

_FACTOR: Final = NormalDist().inv_cdf((1 + BAND) / 2)


class Projected(NamedTuple):
    """Stock at the end of a day, in base units; what is short is owed, so it may be below zero."""

    days: int
    mean_base: int
    low_base: int
    high_base: int


def horizon(*, lead_days: float, review_days: int, arrivals: Mapping[int, int]) -> int:
    """How many days to look ahead: half as far again as an order of today needs, or the last one.

    Args:
        lead_days: Mean lead time, >= 0.
        review_days: Days between two looks.
        arrivals: Base units by days from now.
    """
    needed = max(1.5 * (lead_days + review_days), max(arrivals, default=0) + 1)
    return min(DAYS_MAX, max(DAYS_MIN, math.ceil(needed)))


def projected(
    *, on_hand_base: int, forecast: Forecast, arrivals: Mapping[int, int], days: int
) -> list[Projected]:
    """The course from now on, in at most `POINTS_MAX` steps and each arrival's day.

    Args:
        on_hand_base: What can be used now.
        forecast: Of use.
        arrivals: Base units by days from now, >= 0.
        days: How far, >= 1.
    """
    assert days >= 1
    step = math.ceil(days / POINTS_MAX)
    shown = sorted({*range(0, days, step), days, *(day for day in arrivals if day <= days)})
    course = []
    for day in shown:
        here = on_hand_base + sum(qty for at, qty in arrivals.items() if at <= day)
        use = forecast.over(day)
        off = _FACTOR * use.sd
        mean = here - use.mean
        high = min(here, mean + off)  # nothing comes back
        course.append(Projected(day, round(mean), round(mean - off), round(high)))
    return course
