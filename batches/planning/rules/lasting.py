"""How long a stage takes, and the last day to start it. Days are the shop's."""

from __future__ import annotations

import math
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple


class Wheel(NamedTuple):
    """A gluing wheel: a piece is clamped for one turn of it.

    Attributes:
        index_seconds: From one station to the next; None: as fast as the clamping allows.
    """

    stations: int
    clamp_seconds: int
    index_seconds: Decimal | None = None

    @property
    def index_seconds_min(self) -> Fraction:
        """No faster: index time x stations >= clamp time. Common practice, no source."""
        return Fraction(self.clamp_seconds, self.stations)

    def hours(self, pieces: int) -> Fraction:
        """From the first piece put in to the last taken out."""
        index = self.index_seconds_min if self.index_seconds is None else self.index_seconds
        return (Fraction(index) * pieces + self.clamp_seconds) / 3600


class Lasting(NamedTuple):
    """What a stage takes.

    Attributes:
        bench_hours: Of people or of a wheel, whichever is longer.
        rest_hours: After the last piece, before any may go on: coats dry.
    """

    bench_hours: Fraction
    rest_hours: Fraction = Fraction(0)

    def days(self, hours_a_day: Decimal) -> int:
        """Working days, begun ones whole, at least one."""
        return max(math.ceil(self.bench_hours / Fraction(hours_a_day)), 1)


def start_on_last(
    ready_on: date, lasting: Lasting, *, hours_a_day: Decimal, days_a_week: int
) -> date:
    """The last day to start a stage that must be ready by the end of a day.

    A week's working days begin on Monday; rest goes on at night and on days off.
    """
    last_on = _workday(ready_on - timedelta(days=math.ceil(lasting.rest_hours / 24)), days_a_week)
    weeks, days = divmod(lasting.days(hours_a_day) - 1, days_a_week)
    first_on = last_on - timedelta(weeks=weeks)
    for _ in range(days):
        first_on = _workday(first_on - timedelta(days=1), days_a_week)
    return first_on


def day_before(day: date, days_a_week: int) -> date:
    """The working day before."""
    return _workday(day - timedelta(days=1), days_a_week)


def _workday(day: date, days_a_week: int) -> date:
    """The day, or the last working day before it."""
    return day - timedelta(days=max(day.weekday() + 1 - days_a_week, 0))
