"""What happens if it is ordered today, next week, never."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

from inventory.reorder.rules.demand import Spread
from inventory.reorder.rules.points import SLOW_MEAN_BELOW_BASE

if TYPE_CHECKING:
    from inventory.reorder.rules.forecast import Forecast

LATER_DAYS: Final = 7


class Outlook(NamedTuple):
    """Chances of running out before an order is here, 0 to 1, and how long stock lasts without one.

    Attributes:
        lasts_days: Days at the mean use; None where nothing is used.
    """

    short_if_today: float
    short_if_later: float
    lasts_days: int | None


def outlook(*, position_base: int, today: Spread, later: Spread, forecast: Forecast) -> Outlook:
    """Of a position, all of it here before it is needed.

    Args:
        position_base: On hand and on order, less promised.
        today: Use until an order of today is here.
        later: Use until one placed `LATER_DAYS` later is.
        forecast: Of use.
    """
    lasts = forecast.days_of(position_base)
    return Outlook(
        short_if_today=chance_above(today, position_base),
        short_if_later=chance_above(later, position_base),
        lasts_days=None if math.isinf(lasts) else int(lasts),
    )


def chance_above(demand: Spread, amount_base: int) -> float:
    """P(use > amount): gamma, or of few pieces negative binomial or Poisson."""
    from scipy.special import betainc, gammainc, gammaincc  # noqa: PLC0415 - heavy

    if amount_base < 0:
        return 1.0
    if demand.mean == 0 or demand.sd == 0:
        return float(demand.mean > amount_base)
    excess = demand.sd**2 - demand.mean
    if demand.mean >= SLOW_MEAN_BELOW_BASE:
        return float(
            gammaincc((demand.mean / demand.sd) ** 2, amount_base * demand.mean / demand.sd**2)
        )
    if excess > 1e-9 * demand.mean:
        return float(betainc(amount_base + 1, demand.mean**2 / excess, excess / demand.sd**2))
    return float(gammainc(amount_base + 1, demand.mean))
