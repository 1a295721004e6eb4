"""Moments as papers say them: the shop's day and time."""

from __future__ import annotations

from datetime import datetime

from shopfloor.days import shop_zone


def minute_text(moment: datetime) -> str:
    """`2026-03-02 09:05`."""
    return moment.astimezone(shop_zone()).strftime("%Y-%m-%d %H:%M")
