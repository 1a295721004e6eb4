"""Reads of what is watched, and of alerts."""

from __future__ import annotations

from batches.watch.selectors.alerts import AlertRow, alert_row, alerts, open_alerts, row_of
from batches.watch.selectors.watched import (
    WatchedCheck,
    checks_watched,
    defects_complained_of,
    rise_in_checks,
    rise_in_complaints,
)

__all__ = [
    "AlertRow",
    "WatchedCheck",
    "alert_row",
    "alerts",
    "checks_watched",
    "defects_complained_of",
    "open_alerts",
    "rise_in_checks",
    "rise_in_complaints",
    "row_of",
]
