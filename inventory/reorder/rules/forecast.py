"""What one item will use: the mean of every week to come, and how use spreads about it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Final

from inventory.reorder.rules.demand import Spread
from inventory.reorder.rules.pattern import Pattern

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

DAYS_PER_WEEK: Final = 7
WEEKS_AHEAD: Final = 104
YEAR_WEEKS: Final = 365.25 / DAYS_PER_WEEK


class Method(StrEnum):
    """How the mean of the weeks to come is told from those that were."""

    MEAN = "mean of all weeks"
    YEAR = "mean of the last year"
    SLOW = "exponential smoothing, 0.05"
    QUICK = "exponential smoothing, 0.15"
    TREND = "exponential smoothing with trend"
    CROSTON = "Croston with the Syntetos-Boylan correction"
    SEASON = "season on the mean of all weeks"
    SEASON_SLOW = "season and exponential smoothing, 0.05"
    SEASON_TREND = "season and exponential smoothing with trend"


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """Of one item.

    Attributes:
        pattern: How it was used.
        method: How its mean was told.
        per_week: (weeks,) mean use of each week to come; later ones are as the last year of them.
        lump: Variance of use over its mean.
        drift: Growth of that ratio with every week ahead, since the mean itself is uncertain.
        total: (weeks + 1,) running sum of `per_week`.
    """

    pattern: Pattern
    method: Method
    per_week: Floats
    lump: float
    drift: float
    total: Floats

    def mean_over(self, days: float) -> float:
        """Mean use from now over some days, >= 0."""
        weeks = days / DAYS_PER_WEEK
        known = len(self.per_week)
        if weeks >= known:
            return float(self.total[-1]) + (weeks - known) * self.yearly_base / YEAR_WEEKS
        whole = int(weeks)
        return float(self.total[whole] + (weeks - whole) * self.per_week[whole])

    def over(self, days: float) -> Spread:
        """Use from now over some days."""
        mean = self.mean_over(days)
        grown = 1 + self.drift * days / DAYS_PER_WEEK
        return Spread(mean, math.sqrt(self.lump * mean * grown))

    def days_of(self, amount_base: float) -> float:
        """Days that an amount lasts at the mean use; infinite without use."""
        import numpy as np  # noqa: PLC0415 - heavy, and not needed to start

        if not self.yearly_base:
            return math.inf
        if amount_base <= 0:
            return 0.0
        last = float(self.total[-1])
        if amount_base >= last:
            more = (amount_base - last) / self.yearly_base * YEAR_WEEKS
            return (len(self.per_week) + more) * DAYS_PER_WEEK
        week = int(np.searchsorted(self.total, amount_base, side="right")) - 1
        part = (amount_base - float(self.total[week])) / float(self.per_week[week])
        return (week + part) * DAYS_PER_WEEK

    @property
    def yearly_base(self) -> float:
        """Use of the last year that is looked ahead."""
        weeks = min(52, len(self.per_week))
        return float(self.total[-1] - self.total[-1 - weeks]) * YEAR_WEEKS / weeks


def steady(use: Spread, days: int) -> Forecast:
    """The same every day: of a history too short to choose by."""
    import numpy as np  # noqa: PLC0415 - heavy, and not needed to start

    per_week = np.full(WEEKS_AHEAD, use.mean * DAYS_PER_WEEK)
    return Forecast(
        pattern=Pattern.SMOOTH,
        method=Method.MEAN,
        per_week=per_week,
        lump=use.sd**2 / use.mean if use.mean else 0.0,
        drift=DAYS_PER_WEEK / max(1, days),
        total=np.concatenate([[0.0], per_week.cumsum()]),
    )
