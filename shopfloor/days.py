"""A day is the shop's day: where it begins and ends in UTC."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings


def shop_zone() -> ZoneInfo:
    """The shop's time zone, from `SHOP_TIME_ZONE`."""
    return ZoneInfo(settings.SHOP_TIME_ZONE)


def shop_day(at: datetime) -> date:
    """The shop's day that a moment belongs to."""
    return at.astimezone(shop_zone()).date()


def day_start(day: date) -> datetime:
    """The first moment of a shop's day."""
    return datetime.combine(day, time.min, tzinfo=shop_zone())


def day_end(day: date) -> datetime:
    """The last second of a shop's day: what expires "on" a day may be used all of that day."""
    return day_start(day + timedelta(days=1)) - timedelta(seconds=1)


def shop_moment(text: str) -> str:
    """A moment of the API in the shop's zone, to the minute; what is no moment as it stands."""
    try:
        return datetime.fromisoformat(text).astimezone(shop_zone()).strftime("%Y-%m-%d %H:%M")
    except ValueError:
        return text
