"""The reorder point: which distribution stands for the use, and what is asked of it."""

from __future__ import annotations

import math
from enum import StrEnum
from statistics import NormalDist
from typing import Final, NamedTuple

from inventory.reorder.rules.compound import Uses, compound_point, compound_quantile
from inventory.reorder.rules.demand import Spread, rounded_up
from inventory.reorder.rules.service import counted_point, gamma_point, gamma_quantile

SLOW_MEAN_BELOW_BASE: Final = 10
"""Below this mean the normal curve is a poor likeness of counts.

Source: E. A. Silver, D. F. Pyke & R. Peterson, Inventory Management and Production Planning and
Scheduling, 3rd ed. 1998 (from memory).
"""

NORMAL_SPREAD_MOST: Final = 0.3
"""Standard deviation over mean from which a normal curve would say that less than nothing is used
(once in 2,300 times): a gamma curve does not."""


_SUMMED_MEAN_MAX: Final = 100  # e^-100 is still far from underflow


class Service(StrEnum):
    """What a service level is a share of."""

    FILL = "fill"
    CYCLE = "cycle"


class DemandRule(StrEnum):
    """The distribution that stands for use over lead time and review, or a person's word."""

    NORMAL = "normal"
    GAMMA = "gamma"
    POISSON = "Poisson"
    NEGATIVE_BINOMIAL = "negative binomial"
    COMPOUND = "uses of sizes on record"
    SET_BY_HAND = "set by hand"


class ReorderPoint(NamedTuple):
    """The position at which to order, the safety stock in it, and the rule that gave them."""

    point_base: int
    safety_base: int
    rule: DemandRule


def fill_point(
    *, before: Spread, until: Spread, order_base: float, fill_rate: float, uses: Uses | None
) -> ReorderPoint:
    """The smallest point with which a share of the use finds what it needs on the shelf.

    Args:
        before: Use over lead time.
        until: Use over lead time and review.
        order_base: Size of an order, > 0.
        fill_rate: Below 1.
        uses: Of what is used seldom; else None.
    """
    if until.mean <= before.mean:
        # Nothing is used while nobody looks, so nothing more can run short.
        return _made(rounded_up(until.mean), until, DemandRule.POISSON)
    if uses is not None:
        point = compound_point(
            before=before, until=until, fill_rate=fill_rate, order_base=order_base, uses=uses
        )
        return _made(rounded_up(point), until, DemandRule.COMPOUND)
    if until.mean >= SLOW_MEAN_BELOW_BASE:
        point = gamma_point(before=before, until=until, fill_rate=fill_rate, order_base=order_base)
        return _made(rounded_up(point), until, DemandRule.GAMMA)
    count = counted_point(
        before=before, until=until, fill_rate=fill_rate, order_base=max(1, round(order_base))
    )
    return _made(count, until, _counting(until))


def cycle_point(*, until: Spread, service_level: float, uses: Uses | None) -> ReorderPoint:
    """The smallest point that covers use over lead time and review with the wanted probability."""
    if uses is not None and until.mean > 0:
        point = compound_quantile(until=until, service_level=service_level, uses=uses)
        return _made(rounded_up(point), until, DemandRule.COMPOUND)
    if until.mean < SLOW_MEAN_BELOW_BASE:
        count = smallest_covering(
            mean=until.mean, variance=until.sd**2, service_level=service_level
        )
        return _made(count, until, _counting(until))
    if until.sd > NORMAL_SPREAD_MOST * until.mean:
        point = gamma_quantile(until, service_level)
        return _made(rounded_up(point), until, DemandRule.GAMMA)
    safety = safety_factor(service_level) * until.sd
    return ReorderPoint(rounded_up(until.mean + safety), rounded_up(safety), DemandRule.NORMAL)


def point_set_by_hand(*, point_base: int, demand: Spread) -> ReorderPoint:
    """A person's reorder point; its safety stock is what it holds beyond the mean demand."""
    return _made(point_base, demand, DemandRule.SET_BY_HAND)


def safety_factor(service_level: float) -> float:
    """Standard deviations of safety stock for a cycle service level: the normal quantile."""
    return NormalDist().inv_cdf(service_level)


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


def _made(point_base: int, until: Spread, rule: DemandRule) -> ReorderPoint:
    return ReorderPoint(point_base, max(0, rounded_up(point_base - until.mean)), rule)


def _counting(until: Spread) -> DemandRule:
    is_lumpy = until.sd**2 > until.mean
    return DemandRule.NEGATIVE_BINOMIAL if is_lumpy else DemandRule.POISSON
