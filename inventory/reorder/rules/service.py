"""Points that keep a share of the use on the shelf: fill rate under lumpy, uncertain demand.

Every review the shop orders up when its position has fallen to the point. Orders of a size Q spread
the position after a review evenly between the point s and s + Q. What it covers is the use until
the next order could be here; what was short before is not short anew:

    short a review = mean over y in (s, s + Q) of E[D(lead + review) - y]+ - E[D(lead) - y]+

and the fill rate is 1 less its share in the use of a review.

Source: G. Hadley & T. M. Whitin, Analysis of Inventory Systems, 1963, ch. 4 and 5; P. Zipkin,
Foundations of Inventory Management, 2000, ch. 6 (from memory).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from inventory.reorder.rules.demand import Spread

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]


def gamma_point(*, before: Spread, until: Spread, order_base: float, fill_rate: float) -> float:
    """Smallest point, >= 0, under gamma demand.

    Args:
        before: Use over lead time.
        until: Use over lead time and review; its mean is the larger.
        order_base: Size of an order, > 0.
        fill_rate: Share of use wanted on the shelf, below 1.
    """
    allowed = (1 - fill_rate) * (until.mean - before.mean) * order_base
    late, early = _squared_loss(until), _squared_loss(before)

    def over(point: float) -> float:
        ends = point + order_base
        return late(point) - late(ends) - early(point) + early(ends) - allowed

    return root_of_falling(over, until.mean, close=1e-4 * until.sd)


def root_of_falling(falling: Callable[[float], float], start: float, *, close: float) -> float:
    """Where a falling function passes 0, from above within `close`; 0 if it is below at once.

    False position with halving of what stays put, M. Dowell & P. Jarratt, BIT 11, 1971 (memory).
    """
    low, high = 0.0, max(start, close, 1e-9)
    at_first = at_low = falling(low)
    at_high = falling(high)
    if at_low <= 0:
        return 0.0
    while at_high > 0:
        low, at_low, high = high, at_high, 2 * high
        at_high = falling(high)
    side = 0
    while high - low > close and at_high < 0:
        middle = low + (high - low) * at_low / (at_low - at_high)
        found = falling(middle)
        if found > 0:
            low, at_low = middle, found
            at_high /= 2 if side > 0 else 1
            side = 1
        else:
            if -found < 1e-9 * at_first:
                return middle
            high, at_high = middle, found
            at_low /= 2 if side < 0 else 1
            side = -1
    return high


def gamma_quantile(demand: Spread, service_level: float) -> float:
    """What covers gamma demand with the wanted probability."""
    from scipy.special import gammaincinv  # noqa: PLC0415 - as above

    shape = (demand.mean / demand.sd) ** 2
    return float(gammaincinv(shape, service_level)) * demand.sd**2 / demand.mean


def _squared_loss(demand: Spread) -> Callable[[float], float]:
    """E[(D - y)+ squared] / 2 of gamma demand, as a function of y >= 0."""
    from scipy.special import gammaincc  # noqa: PLC0415 - as above

    if demand.sd == 0 or demand.mean == 0:
        return lambda y: max(0.0, demand.mean - y) ** 2 / 2
    shape = (demand.mean / demand.sd) ** 2
    scale = demand.sd**2 / demand.mean
    mean, square = demand.mean, demand.mean**2 + demand.sd**2
    of_shape = math.lgamma(shape + 1)

    def loss(y: float) -> float:
        if y <= 0:
            return (square - 2 * y * mean + y * y) / 2
        x = y / scale
        # Upper tails of the shapes k, k + 1 and k + 2, by their recurrence.
        tail = float(gammaincc(shape, x))
        step = math.exp(shape * math.log(x) - x - of_shape)
        tail_first = tail + step
        tail_second = tail_first + step * x / (shape + 1)
        return (square * tail_second - 2 * y * mean * tail_first + y * y * tail) / 2

    return loss


def counted_point(*, before: Spread, until: Spread, order_base: int, fill_rate: float) -> int:
    """The same of pieces that are few: negative binomial, or Poisson where nothing is lumpy."""
    import numpy as np  # noqa: PLC0415 - as above

    assert order_base >= 1
    allowed = (1 - fill_rate) * (until.mean - before.mean)
    top = math.ceil(until.mean + 12 * max(until.sd, math.sqrt(until.mean))) + 12
    while True:
        short = _losses(until, top) - _losses(before, top)
        # Mean over the positions s + 1 .. s + Q; beyond the top nothing is short.
        sums = np.concatenate([short[::-1].cumsum()[::-1], np.zeros(order_base + 1)])
        points = np.arange(top)
        mean = (sums[points + 1] - sums[np.minimum(points + 1 + order_base, top)]) / order_base
        fits = np.flatnonzero(mean <= allowed + 1e-12)
        if len(fits):
            return int(fits[0])
        top *= 2


def _losses(demand: Spread, top: int) -> Floats:
    """E[D - y]+ for y = 0 .. top."""
    import numpy as np  # noqa: PLC0415 - as above
    from scipy.special import betainc, gammainc  # noqa: PLC0415 - as above

    counts = np.arange(top)
    if demand.mean == 0:
        return np.zeros(top + 1)
    excess = demand.sd**2 - demand.mean
    if excess > 1e-9 * demand.mean:
        beyond = betainc(counts + 1, demand.mean**2 / excess, excess / demand.sd**2)
    else:
        beyond = gammainc(counts + 1, demand.mean)
    # E[D - y]+ is the sum of P(D > x) for x >= y: from the mean, less those below.
    return demand.mean - np.concatenate([[0.0], beyond.cumsum()])
