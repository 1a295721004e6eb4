"""Weeks begin on Monday (ISO 8601)."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Final

DAYS_PER_WEEK: Final = 7


def monday(day: date) -> date:
    """The Monday of a day's week."""
    return day - timedelta(days=day.weekday())


def week_of(day: date, *, first_on: date) -> int:
    """Weeks from the week that begins on `first_on` to a day's; below zero before it."""
    return (monday(day) - first_on).days // DAYS_PER_WEEK


def monday_of(week: int, *, first_on: date) -> date:
    """The Monday of a week counted from `first_on`."""
    return first_on + timedelta(days=DAYS_PER_WEEK * week)
