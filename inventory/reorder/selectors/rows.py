"""One line of the reorder list: figures in base units, and what follows from them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Final

from inventory.catalog.models import Item
from inventory.purchasing.selectors import ToCome
from inventory.reorder.errors import NoAdviceError
from inventory.reorder.models import ReorderPolicy
from inventory.reorder.rules import (
    Forecast,
    Projected,
    ReorderAdvice,
    ReorderInputs,
    advise,
    horizon,
    projected,
)
from inventory.reorder.selectors.buying import UsedOffer
from inventory.reorder.selectors.shelves import OnHand
from shopfloor.money import VALUE_MICRO_MAX
from shopfloor.units import UNITS

_DIGITS: Final = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class ReorderRow:
    """One item: where it stands, when to order, how much, and from whom. No query is left.

    Attributes:
        item: With its policy.
        offer: What it would be ordered by; None when nobody offers it.
        stock: What is on hand, by whether it can be counted on.
        expiring_base: Usable or in quarantine now, but gone before it can be used, within lead
            time and review.
        on: The day it was looked at.
        inputs: All that the advice rests on.
        advice: None when none can be given.
        no_advice: Why not; else None.
    """

    item: Item
    offer: UsedOffer | None
    stock: OnHand
    expiring_base: int
    on: date
    inputs: ReorderInputs
    advice: ReorderAdvice | None
    no_advice: NoAdviceError | None

    def advised(self, forecast: Forecast | None) -> ReorderRow:
        """The same with the advice by a forecast; None where history is too short for one."""
        if self.no_advice is not None:
            return self
        inputs = replace(self.inputs, forecast=forecast)
        return replace(self, inputs=inputs, advice=advise(inputs))

    @property
    def policy(self) -> ReorderPolicy | None:
        """What a person set, if anything."""
        return getattr(self.item, "reorder_policy", None)

    @property
    def pack_base(self) -> int | None:
        """Base units in a pack of the offer."""
        return None if self.offer is None else self.offer.pack_base

    @property
    def usable_base(self) -> int:
        """Ours, released and good."""
        return self.stock.usable_base

    @property
    def quarantined_base(self) -> int:
        """Ours, waiting for its test."""
        return self.stock.quarantined_base

    @property
    def on_order_base(self) -> int:
        """Still to come."""
        return self.inputs.on_order_base

    @property
    def promised_base(self) -> int:
        """What is spoken for."""
        return self.inputs.promised_base

    @property
    def position_base(self) -> int:
        """On hand, less what will expire unused, and on order, less promised; may be negative."""
        return self.inputs.position_base

    @property
    def is_point_set(self) -> bool:
        """Whether a person set the reorder point."""
        return self.inputs.point_set_base is not None

    @property
    def reorder_point_base(self) -> int | None:
        """Computed, or set by hand; a person's stands even where no advice can be given."""
        if self.advice is not None:
            return self.advice.reorder_point_base
        return self.inputs.point_set_base

    @property
    def safety_stock_base(self) -> int | None:
        """The part of the reorder point beyond the mean."""
        return None if self.advice is None else self.advice.safety_stock_base

    @property
    def is_due(self) -> bool:
        """Whether to order: the position is at the reorder point or below, and something is needed.

        Nothing is needed of what is neither used nor promised. Without advice a point set by hand
        still tells.
        """
        if self.advice is not None:
            return self.advice.suggested_packs > 0
        point_base = self.inputs.point_set_base
        return point_base is not None and self.position_base <= point_base

    @property
    def days_left(self) -> int | None:
        """Days to the last day to order, 0 today; None without use or advice."""
        return None if self.advice is None else self.advice.order_by_days

    @property
    def order_by(self) -> date | None:
        """The last day to order; None without use, without advice, or after all calendars."""
        if self.days_left is None or self.days_left > (date.max - self.on).days:
            return None
        return self.on + timedelta(days=self.days_left)

    @property
    def cover_days(self) -> float | None:
        """Days that the position lasts at the mean use; None without use or advice."""
        if self.advice is None or not self.advice.forecast.yearly_base:
            return None
        return self.advice.forecast.days_of(self.position_base)

    @property
    def suggested_packs(self) -> int | None:
        """Packs to order, 0 when it is not due; None without advice."""
        return None if self.advice is None else self.advice.suggested_packs

    @property
    def suggested_base(self) -> int | None:
        """The same in base units."""
        return None if self.advice is None else self.advice.suggested_base

    @property
    def suggested_value_micro(self) -> int | None:
        """What that many packs cost; None without a price, or beyond any money."""
        packs = self.suggested_packs
        if packs is None or self.offer is None:
            return None
        price_micro = self.offer.pack_price_micro(max(packs, self.offer.packs_min))
        if price_micro is None or price_micro * packs > VALUE_MICRO_MAX:
            return None
        return price_micro * packs

    @property
    def use_per_day(self) -> Decimal | None:
        """Mean use of a day in the unit people see; None without advice."""
        return None if self.advice is None else self.rate(self.advice.use_per_day_base.mean)

    @property
    def use_per_day_sd(self) -> Decimal | None:
        """Its standard deviation, likewise."""
        return None if self.advice is None else self.rate(self.advice.use_per_day_base.sd)

    @property
    def lead_time_days(self) -> Decimal | None:
        """Mean days from order to receipt; None without advice."""
        return None if self.advice is None else rounded(self.advice.lead_time_days.mean)

    @property
    def lead_time_sd_days(self) -> Decimal | None:
        """Their standard deviation, likewise."""
        return None if self.advice is None else rounded(self.advice.lead_time_days.sd)

    @property
    def lead_time_source(self) -> str | None:
        """Either "received", "quoted" or "blended"; None without advice."""
        return None if self.advice is None else self.advice.lead_time_source.name.lower()

    def rate(self, per_day_base: float) -> Decimal:
        """A statistic of use a day, in the unit people see."""
        return rounded(per_day_base / float(UNITS[self.item.display_unit].factor))


def rounded(statistic: float) -> Decimal:
    """A mean or spread to six digits: a year tells it no better."""
    return Decimal(f"{statistic:.{_DIGITS}g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class UseOfDay:
    """What was used on one of the shop's days."""

    day: date
    qty_base: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ReorderPage:
    """One item with every input of its advice.

    Attributes:
        history_from: The first day of the history; None when there is none.
        used: Days on which something was used, oldest first.
        is_watched: Whether the reorder list has the item.
        to_come: What is on order.
    """

    row: ReorderRow
    history_from: date | None
    used: list[UseOfDay]
    is_watched: bool
    to_come: list[ToCome]

    @property
    def course(self) -> list[Projected]:
        """Stock of the coming days if nothing more is ordered; empty without advice.

        From what can be used or waits for its test, less what is promised. What was promised for a
        day gone by, or for no day, is taken to come today, or after the mean lead time.
        """
        advice, row = self.row.advice, self.row
        if advice is None:
            return []
        lead_days = advice.lead_time_days.mean
        arrivals: dict[int, int] = {}
        for line in self.to_come:
            when = round(lead_days)
            if line.promised_on is not None:
                when = max(0, (line.promised_on - row.on).days)
            arrivals[when] = arrivals.get(when, 0) + line.qty_base
        return projected(
            on_hand_base=row.inputs.on_hand_base - row.promised_base,
            forecast=advice.forecast,
            arrivals=arrivals,
            days=horizon(
                lead_days=lead_days, review_days=row.inputs.review_days, arrivals=arrivals
            ),
        )

    @property
    def history_days(self) -> int:
        """Days the use is known of, with those on which nothing was used."""
        return len(self.row.inputs.use_base_by_day)
