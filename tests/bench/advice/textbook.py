"""Plain rules of the textbooks, each with one knob that is turned until it would have served.

Mean and spread of the last year's days, lead times as received, the economic order quantity. The
knob is turned item by item: the least that had reached the target if the two years on record had
been lived by it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from inventory.reorder.rules import PriceBreak
from inventory.reorder.rules.quantity import cheapest_packs
from tests.bench.advice.living import Adviser, Ints, Shelves, live
from tests.bench.advice.shops import (
    HISTORY_DAYS,
    HOLDING_RATIO,
    ORDER_COST,
    REVIEW_DAYS,
    Wares,
)

Floats = npt.NDArray[np.float64]

RULES: Final = ("normal curve", "square root of use", "days of cover", "most used times longest")
_KNOBS: Final = {
    "normal curve": np.concatenate([np.arange(-1.0, 3.01, 0.25), [3.5, 4.0, 5.0]]),
    "square root of use": np.array([0, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48]),
    "days of cover": np.arange(0.6, 4.01, 0.1),
    "most used times longest": np.arange(0.1, 1.31, 0.1),
}
_WINDOW_DAYS: Final = 365


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """What the rules look at: arrays of items, pieces and days."""

    mean: Floats
    sd: Floats
    most_a_week: Floats
    lead: Floats
    lead_sd: Floats
    lead_most: Floats


def textbook(of: Wares, rule: str, knob: Floats, *, on_record: bool = False) -> Adviser:
    """An adviser by one rule; `on_record` looks at the two years as they were, on every day."""
    packs = np.array([_economic_packs(of, item) for item in range(len(of.kind))])
    kept: dict[int, _Seen] = {}

    def adviser(day: int, shelves: Shelves) -> Ints:
        at = HISTORY_DAYS if on_record else day
        if at not in kept:
            kept.clear()
            kept[at] = _seen(of.need if on_record else shelves.used, at, shelves, of)
        seen = kept[at]
        point = np.ceil(knob_point(rule, knob, seen))
        position = shelves.on_hand + shelves.on_order - shelves.owed
        need = point + seen.mean * REVIEW_DAYS - position
        wanted = np.maximum(packs, np.ceil(need / of.pack))
        left = np.maximum(0.0, position - seen.mean * seen.lead)
        fits = np.floor((seen.mean * of.shelf_days - left) / of.pack)
        wanted = np.where(of.shelf_days > 0, np.clip(fits, 1, wanted), wanted)
        is_due = (position <= point) & (seen.mean > 0)
        return np.where(is_due, wanted * of.pack, 0).astype(np.int64)

    return adviser


def knob_point(rule: str, knob: Floats, seen: _Seen) -> Floats:
    """The reorder point of every item."""
    days = seen.lead + REVIEW_DAYS
    mean = seen.mean * days
    if rule == "normal curve":
        return mean + knob * np.sqrt(days * seen.sd**2 + (seen.mean * seen.lead_sd) ** 2)
    if rule == "square root of use":
        return mean + knob * np.sqrt(mean)
    if rule == "days of cover":
        return mean * knob
    return seen.most_a_week / 7 * (seen.lead_most + REVIEW_DAYS) * knob


def tuned(of: Wares, rule: str) -> Floats:
    """For every item the least knob that reached its target on record; else the largest."""
    knobs = _KNOBS[rule]
    found = np.full(len(of.kind), knobs[-1])
    past = [np.resize(each, 60) for each in of.past_leads]
    for knob in knobs[::-1]:
        lived = live(
            need=of.need[:, :HISTORY_DAYS],
            lead_days=np.array(past),
            start=of.start,
            shelf_days=of.shelf_days,
            from_day=0,
            to_day=HISTORY_DAYS,
            leads=of.past_leads,
            adviser=textbook(of, rule, np.full(len(of.kind), knob), on_record=True),
        )
        found = np.where(lived.fill >= of.target, knob, found)
    return found


def turned(rule: str, knob: Floats, turns: int) -> Floats:
    """Every knob so many steps further, beyond its end by steps like the last."""
    knobs = _KNOBS[rule]
    last = knobs[-1] - knobs[-2]
    long = np.concatenate([knobs, knobs[-1] + last * np.arange(1, 30)])
    return long[np.maximum(0, np.searchsorted(knobs, knob - 1e-9) + turns)]


def _seen(use: Ints, day: int, shelves: Shelves, of: Wares) -> _Seen:
    window = use[:, day - _WINDOW_DAYS : day]
    leads = [
        each[-12:] if each else [int(quoted)]
        for each, quoted in zip(shelves.leads, of.quoted_days, strict=True)
    ]
    weeks = window[:, -364:].reshape(len(window), 52, 7).sum(axis=2)
    return _Seen(
        mean=window.mean(axis=1),
        sd=window.std(axis=1, ddof=1),
        most_a_week=weeks.max(axis=1).astype(float),
        lead=np.array([np.mean(each) for each in leads]),
        lead_sd=np.array([np.std(each, ddof=1) if len(each) > 1 else 0.0 for each in leads]),
        lead_most=np.array([max(each) for each in leads], dtype=float),
    )


def _economic_packs(of: Wares, item: int) -> int:
    per_year = float(of.need[item, :HISTORY_DAYS].mean()) * 365
    packs = cheapest_packs(
        price_breaks=[PriceBreak(start, round(price * 1e6)) for start, price in of.breaks[item]],
        packs_per_year=max(per_year, 1e-6) / float(of.pack[item]),
        order_cost_micro=ORDER_COST * 1e6,
        holding_ratio_per_year=HOLDING_RATIO,
    )
    return max(1, round(packs))
