"""The product as adviser of the made-up shops: its own arithmetic, without a database."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Final

import numpy as np

from inventory.reorder.rules import (
    Ending,
    Forecast,
    PriceBreak,
    ReorderInputs,
    advise,
    first_fault,
    forecasts,
    lead_time,
    lost_base,
    use_per_day,
    weekly,
)
from tests.bench.advice.living import Adviser, Ints, Shelves
from tests.bench.advice.shops import HISTORY_DAYS, HOLDING_RATIO, ORDER_COST, REVIEW_DAYS, Wares

WINDOW_DAYS: Final = 730
LEAD_TIMES_KEPT: Final = 24

_FORECAST_WEEKS: Final = 4
_MICRO: Final = 1_000_000


def product(of: Wares, *, knows: bool = False) -> Adviser:
    """Advice at every look; the method of a forecast is chosen anew every fourth.

    Args:
        of: The items.
        knows: Forecast and lead times are those that the shops are drawn with, not told from their
            past: what is missed then is luck, or the rule's own fault.
    """
    made: list[Forecast] = []

    def adviser(day: int, shelves: Shelves) -> Ints:
        week = (day - HISTORY_DAYS) // REVIEW_DAYS % _FORECAST_WEEKS
        if week == 0:
            made[:] = _forecasts(of, day, shelves)
        orders = np.zeros(len(of.kind), np.int64)
        for item, forecast in enumerate(made):
            said = _known(of, item, day, forecast) if knows else _later(forecast, week)
            inputs = _inputs(of, item, day, shelves)
            inputs = replace(
                inputs,
                forecast=said,
                lead_times_days=of.lead_days[item].tolist() if knows else inputs.lead_times_days,
            )
            if first_fault(inputs) is None:
                orders[item] = advise(inputs).suggested_base
        return orders

    return adviser


def _forecasts(of: Wares, day: int, shelves: Shelves) -> list[Forecast]:
    leads = [
        lead_time(each[-LEAD_TIMES_KEPT:], int(quoted))[0].mean
        for each, quoted in zip(shelves.leads, of.quoted_days, strict=True)
    ]
    use = weekly(shelves.used[:, day - WINDOW_DAYS : day])
    made = forecasts(use, (np.array(leads) + REVIEW_DAYS) / 7)
    return [made.of(item) for item in range(len(of.kind))]


def _later(forecast: Forecast, weeks: int) -> Forecast:
    total = forecast.total[weeks:] - forecast.total[weeks]
    return replace(forecast, per_week=forecast.per_week[weeks:], total=total)


def _known(of: Wares, item: int, day: int, forecast: Forecast) -> Forecast:
    ahead = of.mean[item, day:].astype(float)
    weeks = min(len(ahead) // 7, len(forecast.per_week))
    per_week = ahead[: weeks * 7].reshape(weeks, 7).sum(axis=1) if weeks else forecast.per_week
    total = np.concatenate([[0.0], per_week.cumsum()])
    return replace(forecast, per_week=per_week, total=total, lump=float(of.lump[item]), drift=0.0)


def _inputs(of: Wares, item: int, day: int, shelves: Shelves) -> ReorderInputs:
    use = shelves.used[item, day - WINDOW_DAYS : day]
    leads = shelves.leads[item][-LEAD_TIMES_KEPT:]
    quoted = int(of.quoted_days[item])
    expiring = 0
    if of.shelf_days[item]:
        expiring = lost_base(
            endings=[Ending(*each) for each in shelves.endings(item, day)],
            mean_per_day_base=use_per_day(use).mean,
            within_days=lead_time(leads, quoted)[0].mean + REVIEW_DAYS,
        )
    return ReorderInputs(
        use_base_by_day=use,
        lead_times_days=leads,
        lead_time_quoted_days=quoted,
        review_days=REVIEW_DAYS,
        service_level=Decimal(str(of.target[item])),
        on_hand_base=int(shelves.on_hand[item]) - expiring,
        on_order_base=int(shelves.on_order[item]),
        promised_base=int(shelves.owed[item]),
        pack_base=int(of.pack[item]),
        shelf_life_days=int(of.shelf_days[item]) or None,
        price_breaks=tuple(
            PriceBreak(start, round(price * _MICRO)) for start, price in of.breaks[item]
        ),
        order_cost_micro=round(ORDER_COST * _MICRO),
        holding_ratio_per_year=Decimal(str(HOLDING_RATIO)),
    )
