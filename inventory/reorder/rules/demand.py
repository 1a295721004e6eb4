"""What was used a day, and how long an order takes. Days throughout; any one unit works."""

from __future__ import annotations

import math
from enum import StrEnum
from statistics import fmean
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    import numpy.typing as npt

QUOTE_ORDERS: Final = 2
"""A supplier's word weighs as much as so many received orders."""

QUOTE_SPREAD: Final = 0.2
"""Standard deviation of a lead time as a share of it, as long as no order tells."""


class LeadTimeSource(StrEnum):
    """Where the lead time comes from."""

    RECEIVED = "received orders"
    QUOTED = "quoted by the supplier"
    BLENDED = "received orders and the supplier's quote"


class Spread(NamedTuple):
    """A mean and a standard deviation in the same unit."""

    mean: float
    sd: float


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
    """Lead time of the next order, from received orders and the supplier's word.

    The word counts as `QUOTE_ORDERS` orders that spread by `QUOTE_SPREAD` of it; received orders
    outweigh it as they grow. The spread is that of one more order, so it also holds what is not
    known of the mean. Without a word, or one of 0 days, the mean of what was received
    stands in for it.

    Source: conjugate normal model, A. Gelman et al., Bayesian Data Analysis, ch. 3 (from memory);
    the weight and spread of a quote are common practice, no source.
    """
    count = len(received_days)
    mean = fmean(received_days) if count else 0.0
    assert count or quoted_days
    quoted = float(quoted_days or mean)
    weight = QUOTE_ORDERS / (QUOTE_ORDERS + count)
    between = count * weight * (mean - quoted) ** 2
    within = sum((each - mean) ** 2 for each in received_days)
    variance = (QUOTE_ORDERS * (QUOTE_SPREAD * quoted) ** 2 + within + between) / (
        QUOTE_ORDERS + count
    )
    sd = math.sqrt(variance * (1 + 1 / (QUOTE_ORDERS + count)))
    if not count:
        source = LeadTimeSource.QUOTED
    elif not quoted_days:
        source = LeadTimeSource.RECEIVED
    else:
        source = LeadTimeSource.BLENDED
    return Spread(weight * quoted + (1 - weight) * mean, sd), source


def rounded_up(amount: float) -> int:
    """Whole base units, up; what float arithmetic adds to a whole number does not count."""
    return math.ceil(amount - 1e-12 * max(1.0, abs(amount)))


def rounded_down(amount: float) -> int:
    """Whole base units, down; what float arithmetic takes off a whole number does not count."""
    return -rounded_up(-amount)
