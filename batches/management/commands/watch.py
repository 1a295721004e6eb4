"""`manage.py watch`: looks whether failures became more frequent, and opens alerts.

Every check and complaint has it done by itself; by hand it is for what a process that ended left
undone, or where SHOP_WATCH_BY_HAND is 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from batches.trace.selectors import causes
from batches.watch.models import Alert
from batches.watch.operations import AlertDraft, open_alert
from batches.watch.selectors import (
    checks_watched,
    defects_complained_of,
    rise_in_checks,
    rise_in_complaints,
)
from batches.watch.selectors.watched import DAYS, FoundRise
from shopfloor.days import shop_day
from shopfloor.errors import ShopError
from shopfloor.management.shop_command import ShopCommand


class Command(ShopCommand):
    """Prints the alerts that it opened."""

    help = "Look whether checks fail or complaints come more often than before; open alerts."

    def handle(self, **options: Any) -> None:
        """Look at everything."""
        now = timezone.now()
        opened = [*look_at_checks(None, now=now), *look_at_complaints(None, now=now)]
        for alert in opened:
            self.stdout.write(f"{alert.code} {alert.defect.code}: {alert.seen} {alert.cause}")
        self.stdout.write(f"{len(opened)} opened.")


def look_at_checks(definition_ids: Sequence[int] | None, *, now: datetime) -> list[Alert]:
    """Open an alert for each check that fails more often than before."""
    opened = []
    for watched in checks_watched(definition_ids):
        rise = rise_in_checks(watched, now=now)
        if rise is not None:
            opened.append(_opened(watched.defect, watched.stage, rise, now))
    return [alert for alert in opened if alert is not None]


def look_at_complaints(defect_ids: Sequence[int] | None, *, now: datetime) -> list[Alert]:
    """Open an alert for each defect that is complained of more often than before."""
    opened = []
    for defect in defects_complained_of(defect_ids):
        rise = rise_in_complaints(defect, now=now)
        if rise is not None:
            opened.append(_opened(defect, "", rise, now))
    return [alert for alert in opened if alert is not None]


def _opened(defect: str, stage: str, rise: FoundRise, now: datetime) -> Alert | None:
    # Looking for causes takes seconds, and an open alert needs none.
    if Alert.objects.filter(defect__code=defect, closing__isnull=True).exists():
        return None
    words, exposures = _likely_cause(defect, stage, now)
    draft = AlertDraft(defect, rise.seen, rise.since_at, words, exposures)
    return open_alert(draft=draft, at=now)


def _likely_cause(defect: str, stage: str, now: datetime) -> tuple[str, list[dict[str, str]]]:
    """What the failures of a year have in common, in words, and the exposures by name."""
    last_on = shop_day(now)
    try:
        found = causes(
            defect=defect, stage=stage, first_on=last_on - timedelta(days=DAYS), last_on=last_on
        )
    except ShopError as error:  # an alert without a cause is better than none
        return str(error.detail), []
    likely = [cause for cause in found.causes if not cause.is_too_few]
    rows = [row for cause in likely for row in (cause.exposure, *cause.cannot_tell_from)]
    return found.words, [{"kind": row.kind, "name": row.name} for row in rows]
