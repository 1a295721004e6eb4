"""How long it takes from an order or a start until something can be used, and who says so."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final, NamedTuple

from batches.planning.models import PlanningPolicy
from batches.planning.rules.weeks import DAYS_PER_WEEK
from batches.planning.selectors.making import BATCHES_KEPT, Bill, RunDays, run_days
from inventory.purchasing.selectors import lead_times_days
from inventory.reorder.selectors.buying import LeadTimes, UsedOffer
from shopfloor.days import day_start, shop_day

BOUGHT_DAYS_DEFAULT: Final = 14
MADE_DAYS_DEFAULT: Final = 7
"""Taken where nothing is known, which is said; common practice, no source."""

_RUNS_SINCE: Final = timedelta(days=731)
_SAME_WEEK_DAYS: Final = 3  # a stage that is over so soon is over in its week


class LeadSource(StrEnum):
    """Who says how long it takes."""

    SET = "set"
    RECEIVED = "received"
    QUOTED = "quoted"
    BATCHES = "batches"
    STAGE = "stage"
    MIXING = "mixing"
    UNKNOWN = "unknown"


class Lead(NamedTuple):
    """Days, whole weeks of the plan, and who says so."""

    days: int
    weeks: int
    source: LeadSource


@dataclass(frozen=True, slots=True)
class Leads:
    """Lead times of everything. Two statements, none by asking for one."""

    received: LeadTimes
    runs: RunDays

    @classmethod
    def read(cls, *, now: datetime) -> Leads:
        """As the shop's own orders and batches tell them."""
        since = day_start(shop_day(now - _RUNS_SINCE))
        return cls(LeadTimes(lead_times_days()), run_days(since))

    def of(
        self,
        item_id: int,
        *,
        bill: Bill | None,
        offer: UsedOffer | None,
        policy: PlanningPolicy | None,
    ) -> Lead:
        """Of one item; what a person set stands."""
        set_days = None if policy is None else policy.lead_time_days
        if bill is not None:
            days, source = (
                self._made(item_id, bill) if set_days is None else (set_days, LeadSource.SET)
            )
            return Lead(days, (days + _SAME_WEEK_DAYS) // DAYS_PER_WEEK, source)
        days, source = (
            self._bought(item_id, offer) if set_days is None else (set_days, LeadSource.SET)
        )
        return Lead(days, -(-days // DAYS_PER_WEEK), source)

    def _made(self, item_id: int, bill: Bill) -> tuple[int, LeadSource]:
        if bill.is_mixing:
            return 0, LeadSource.MIXING
        if item_id in self.runs.of_item:
            return _mean(self.runs.of_item, item_id), LeadSource.BATCHES
        if bill.stage_id in self.runs.of_stage:
            return _mean(self.runs.of_stage, bill.stage_id), LeadSource.STAGE
        return MADE_DAYS_DEFAULT, LeadSource.UNKNOWN

    def _bought(self, item_id: int, offer: UsedOffer | None) -> tuple[int, LeadSource]:
        days = self.received.days(item_id, offer)
        if days:
            return max(0, math.ceil(sum(days) / len(days))), LeadSource.RECEIVED
        if offer is not None and offer.lead_time_days is not None:
            return offer.lead_time_days, LeadSource.QUOTED
        return BOUGHT_DAYS_DEFAULT, LeadSource.UNKNOWN


def _mean(days: Mapping[int, Sequence[int]], key: int) -> int:
    latest = days[key][-BATCHES_KEPT:]
    return math.ceil(sum(latest) / len(latest))
