"""Alerts: one is opened by the program itself, and closed by a lead."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from batches.quality.models import CheckDefinition
from batches.runs.models import ScrapReason
from batches.watch.errors import AlertClosedError
from batches.watch.models import Alert, AlertClosing
from batches.watch.rules.wording import Seen, seen_sentence
from shopfloor.codes.alphabet import Prefix, decode
from shopfloor.errors import NotFoundError
from shopfloor.operation import operation
from shopfloor.stamp import Stamp


class AlertDraft(NamedTuple):
    """An alert as it is opened."""

    defect_code: str
    seen: Seen
    since_at: datetime
    cause: str
    exposures: Sequence[dict[str, str]]


@operation
def open_alert(*, draft: AlertDraft, at: datetime) -> Alert | None:
    """Open an alert; none where one of that defect is open already."""
    # Of two who see the same rise the second waits here, and then finds the alert.
    defect = ScrapReason.objects.select_for_update().get(code=draft.defect_code)
    if Alert.objects.filter(defect=defect, closing__isnull=True).exists():
        return None
    seen = draft.seen
    return Alert.objects.create(
        defect=defect,
        definition=CheckDefinition.objects.filter(code=seen.definition).first(),
        opened_at=at,
        since_at=draft.since_at,
        tested=seen.tested,
        failed=seen.failed,
        tested_before=seen.tested_before,
        failed_before=seen.failed_before,
        seen=seen_sentence(seen),
        cause=draft.cause,
        exposures=list(draft.exposures),
    )


@operation
def close_alert(*, alert_code: str, is_usual: bool, stamp: Stamp) -> Alert:
    """Close an alert.

    Args:
        alert_code: Which.
        is_usual: What was seen counts as usual from now on; else it is left out of what is usual.
        stamp: Who, when and why.

    Raises:
        ReasonMissingError: no reason.
        NotFoundError: no such alert.
        AlertClosedError: it was closed before.
    """
    stamp.refuse_no_reason()
    alerts = Alert.objects.select_for_update().select_related("defect")
    alert = alerts.filter(pk=decode(alert_code, Prefix.ALERT)[1]).first()
    if alert is None:
        raise NotFoundError("No alert has this code. Look at the list.", alert=alert_code)
    if AlertClosing.objects.filter(alert=alert).exists():
        raise AlertClosedError("This alert was closed before.", alert=alert.code)
    AlertClosing.objects.create(
        alert=alert,
        at=stamp.at,
        recorded_at=stamp.now,
        by=stamp.by,
        reason=stamp.reason,
        is_usual=is_usual,
    )
    return alert
