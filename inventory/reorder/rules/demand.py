"""Use, lead time, and the reorder point that covers both. Days throughout; any one unit works."""

from __future__ import annotations

import math
from enum import StrEnum
from statistics import NormalDist, fmean, stdev
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence
    from decimal import Decimal

    import numpy as np
    import numpy.typing as npt

SLOW_MEAN_BELOW_BASE: Final = 10
"""Below this mean the normal curve is a poor likeness of counts.

Source: E. A. Silver, D. F. Pyke & R. Peterson, Inventory Management and Production Planning and
Scheduling, 3rd ed. 1998 (from memory).
"""

_SUMMED_MEAN_MAX: Final = 100  # e^-100 is still far from underflow


class LeadTimeSource(StrEnum):
    """Where the lead time comes from."""

    RECEIVED = "received orders"
    QUOTED = "quoted by the supplier"


class DemandRule(StrEnum):
    """The distribution that stands for use over lead time and review, or a person's word."""

    NORMAL = "normal"
    POISSON = "Poisson"
    NEGATIVE_BINOMIAL = "negative binomial"
    SET_BY_HAND = "set by hand"


class Spread(NamedTuple):
    """A mean and a standard deviation in the same unit."""

    mean: float
    sd: float


class ReorderPoint(NamedTuple):
    """The position at which to order, the safety stock in it, and the rule that gave them."""

    point_base: int
    safety_base: int
    rule: DemandRule


def use_per_day(use_base_by_day: npt.NDArray[np.int64]) -> Spread:
    """Mean and sample standard deviation of a day's use.

    Args:
        use_base_by_day: `(days,)` int64 base units, >= 0; no day at all is no use.
    """
    assert (use_base_by_day >= 0).all()
    if len(use_base_by_day) < 2:  # noqa: PLR2004 - a spread takes two days
        return Spread(float(use_base_by_day.sum()), 0.0)
    return Spread(float(use_base_by_day.mean()), float(use_base_by_day.std(ddof=1)))


def lead_time(
    received_days: Sequence[int], quoted_days: int | None
) -> tuple[Spread, LeadTimeSource]:
    """Lead time from received orders; only without any the quoted one, taken as certain."""
    if not received_days:
        assert quoted_days is not None
        return Spread(float(quoted_days), 0.0), LeadTimeSource.QUOTED
    sd = float(stdev(received_days)) if len(received_days) > 1 else 0.0
    return Spread(fmean(received_days), sd), LeadTimeSource.RECEIVED


def demand_over(*, use: Spread, lead: Spread, review_days: int) -> Spread:
    """Use over lead time and review: sd = sqrt(L sd_d^2 + d^2 sd_L^2), days independent.

    L counts the review too, since an order not placed today waits that long; it has no spread.

    Source: S. Chopra & P. Meindl, Supply Chain Management, chapter on safety inventory.
    """
    days = lead.mean + review_days
    variance = days * use.sd**2 + use.mean**2 * lead.sd**2
    return Spread(use.mean * days, math.sqrt(variance))


def reorder_point(*, demand: Spread, service_level: Decimal) -> ReorderPoint:
    """Smallest position that covers demand with the wanted probability, rounded up.

    A mean of `SLOW_MEAN_BELOW_BASE` or more: mean + k sd of the normal curve. Below: the smallest
    count R with P(demand <= R) >= service level; negative binomial if the variance exceeds the
    mean, Poisson if not.
    """
    if demand.mean >= SLOW_MEAN_BELOW_BASE:
        safety = safety_factor(service_level) * demand.sd
        point = rounded_up(demand.mean + safety)
        return ReorderPoint(point, rounded_up(safety), DemandRule.NORMAL)
    variance = demand.sd**2
    point = smallest_covering(
        mean=demand.mean, variance=variance, service_level=float(service_level)
    )
    is_lumpy = variance > demand.mean
    return ReorderPoint(
        point_base=point,
        safety_base=max(0, rounded_up(point - demand.mean)),
        rule=DemandRule.NEGATIVE_BINOMIAL if is_lumpy else DemandRule.POISSON,
    )


def point_set_by_hand(*, point_base: int, demand: Spread) -> ReorderPoint:
    """A person's reorder point; its safety stock is what it holds beyond the mean demand."""
    safety = max(0, rounded_up(point_base - demand.mean))
    return ReorderPoint(point_base, safety, DemandRule.SET_BY_HAND)


def safety_factor(service_level: Decimal) -> float:
    """Standard deviations of safety stock for a cycle service level: the normal quantile."""
    return NormalDist().inv_cdf(float(service_level))


def smallest_covering(*, mean: float, variance: float, service_level: float) -> int:
    """Smallest count R with P(demand <= R) >= service_level, summed term by term from zero.

    Negative binomial by its moments, n = mean^2 / (variance - mean), p = mean / variance; as the
    variance falls to the mean it becomes Poisson, which also stands for any smaller variance.

    Source: S. Axsater, Inventory Control, ch. 5.
    """
    assert 0 <= mean <= _SUMMED_MEAN_MAX
    assert service_level < 1
    if mean == 0:
        return 0
    variance = max(variance, mean)
    excess = variance - mean
    # Within 1e-9 of Poisson, excess has lost its digits and n would be noise.
    is_poisson = excess < 1e-9 * mean
    log_none = -mean if is_poisson else mean**2 / excess * math.log(mean / variance)
    chance = covered = math.exp(log_none)
    count = 0
    while covered < service_level:
        chance *= (count * excess + mean**2) / variance / (count + 1)
        count += 1
        covered += chance
    return count


def rounded_up(amount: float) -> int:
    """Whole base units, up; what float arithmetic adds to a whole number does not count."""
    return math.ceil(amount - 1e-12 * max(1.0, abs(amount)))


def rounded_down(amount: float) -> int:
    """Whole base units, down; what float arithmetic takes off a whole number does not count."""
    return -rounded_up(-amount)
