"""Plain rules of the textbooks, each with one knob that is turned until it would have served.

Mean and spread of the last year's days, lead times as received, the economic order quantity. The
knob is turned item by item: the least that had reached the target if the two years on record had
been lived by it.
"""

from __future__ import annotations

import math
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
_WEEKS: Final = 52
_LEADS_KEPT: Final = 12


@dataclass(slots=True, eq=False)
class _Leads:
    """Mean, spread and most of the latest lead times: arrays of items."""

    mean: Floats
    sd: Floats
    most: Floats
    count: list[int]

    def look(self, of: Wares, leads: list[list[int]]) -> None:
        """At the items of which something came since the last look."""
        for item, all_days in enumerate(leads):
            if len(all_days) == self.count[item]:
                continue
            self.count[item] = len(all_days)
            days = all_days[-_LEADS_KEPT:] or [int(of.quoted_days[item])]
            mean = sum(days) / len(days)
            squares = sum((each - mean) ** 2 for each in days)
            self.mean[item] = mean
            self.sd[item] = math.sqrt(squares / max(1, len(days) - 1))
            self.most[item] = max(days)


@dataclass(slots=True, eq=False)
class _Seen:
    """What the rules look at: arrays of items, pieces and days.

    The last 52 weeks' use and squared days' use stand in turn, a row a week, so that a look adds a
    week only.
    """

    leads: _Leads
    weeks: Floats
    squares: Floats
    day: int = 0

    def look(self, of: Wares, use: Ints, leads: list[list[int]], day: int) -> None:
        """From a day's morning."""
        self.leads.look(of, leads)
        for end in range(max(self.day + 7, day - 7 * (_WEEKS - 1)), day + 1, 7):
            week = use[:, end - 7 : end]
            self.weeks[end // 7 % _WEEKS] = week.sum(axis=1)
            self.squares[end // 7 % _WEEKS] = np.einsum("ij,ij->i", week, week)
        self.day = day

    @property
    def mean(self) -> Floats:
        """Of a day."""
        found: Floats = self.weeks.sum(axis=0) / (7 * _WEEKS)
        return found

    @property
    def sd(self) -> Floats:
        """Of a day."""
        days = 7 * _WEEKS
        rest = self.squares.sum(axis=0) - days * self.mean**2
        found: Floats = np.sqrt(np.maximum(0.0, rest) / (days - 1))
        return found


def textbook(of: Wares, rule: str, knob: Floats, *, on_record: bool = False) -> Adviser:
    """An adviser by one rule; `on_record` looks at the two years as they were, on every day."""
    packs = np.array([_economic_packs(of, item) for item in range(len(of.kind))])
    items = len(of.kind)
    seen = _Seen(
        _Leads(np.zeros(items), np.zeros(items), np.zeros(items), [-1] * items),
        np.zeros((_WEEKS, items)),
        np.zeros((_WEEKS, items)),
    )

    def adviser(day: int, shelves: Shelves) -> Ints:
        at = HISTORY_DAYS if on_record else day
        if at != seen.day:
            seen.look(of, of.need if on_record else shelves.used, shelves.leads, at)
        mean = seen.mean
        point = np.ceil(knob_point(rule, knob, seen))
        position = shelves.on_hand + shelves.on_order - shelves.owed
        need = point + mean * REVIEW_DAYS - position
        wanted = np.maximum(packs, np.ceil(need / of.pack))
        left = np.maximum(0.0, position - mean * seen.leads.mean)
        fits = np.floor((mean * of.shelf_days - left) / of.pack)
        wanted = np.where(of.shelf_days > 0, np.clip(fits, 1, wanted), wanted)
        is_due = (position <= point) & (mean > 0)
        return np.where(is_due, wanted * of.pack, 0).astype(np.int64)

    return adviser


def knob_point(rule: str, knob: Floats, seen: _Seen) -> Floats:
    """The reorder point of every item."""
    days = seen.leads.mean + REVIEW_DAYS
    mean = seen.mean * days
    if rule == "normal curve":
        return mean + knob * np.sqrt(days * seen.sd**2 + (seen.mean * seen.leads.sd) ** 2)
    if rule == "square root of use":
        return mean + knob * np.sqrt(mean)
    if rule == "days of cover":
        return mean * knob
    most: Floats = seen.weeks.max(axis=0) / 7
    return most * (seen.leads.most + REVIEW_DAYS) * knob


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
    at = np.searchsorted(knobs, knob - 1e-9) + turns
    beyond = np.maximum(0, at - len(knobs) + 1)
    inside: Floats = knobs[np.clip(at, 0, len(knobs) - 1)]
    found: Floats = inside + beyond * (knobs[-1] - knobs[-2])
    return found


def _economic_packs(of: Wares, item: int) -> int:
    per_year = float(of.need[item, :HISTORY_DAYS].mean()) * 365
    packs = cheapest_packs(
        price_breaks=[PriceBreak(start, round(price * 1e6)) for start, price in of.breaks[item]],
        packs_per_year=max(per_year, 1e-6) / float(of.pack[item]),
        order_cost_micro=ORDER_COST * 1e6,
        holding_ratio_per_year=HOLDING_RATIO,
    )
    return max(1, round(packs))
