"""Alerts as the API and the first page tell them."""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple

from django.db.models import QuerySet

from batches.watch.models import Alert, AlertClosing
from shopfloor.codes.alphabet import Prefix, decode
from shopfloor.errors import NotFoundError


class AlertRow(NamedTuple):
    """An alert."""

    code: str
    defect: str
    defect_name: str
    definition: str | None
    opened_at: datetime
    since_at: datetime
    tested: int
    failed: int
    tested_before: int
    failed_before: int
    seen: str
    cause: str
    exposures: list[dict[str, str]]
    is_open: bool
    closed_at: datetime | None
    closed_by: str | None
    closed_because: str
    is_usual: bool | None


def alerts() -> QuerySet[Alert]:
    """Alerts, to be filtered and paged; two statements a page."""
    return Alert.objects.select_related("defect", "definition", "closing__by")


def open_alerts() -> QuerySet[Alert]:
    """Those that nobody closed, newest first. One statement."""
    return alerts().filter(closing__isnull=True).order_by("-pk")


def alert_row(code: str) -> AlertRow:
    """One alert. One statement.

    Raises:
        CodeUnreadableError, CodeTypoError, WrongKindOfCodeError: not the code of an alert.
        NotFoundError: no alert has that code.
    """
    found = alerts().filter(pk=decode(code, Prefix.ALERT)[1]).first()
    if found is None:
        raise NotFoundError("No alert has this code. Look at the list.", alert=code)
    return row_of(found)


def row_of(alert: Alert) -> AlertRow:
    """A row, out of what `alerts` has loaded."""
    closing: AlertClosing | None = getattr(alert, "closing", None)
    return AlertRow(
        code=alert.code,
        defect=alert.defect.code,
        defect_name=alert.defect.name,
        definition=None if alert.definition is None else alert.definition.code,
        opened_at=alert.opened_at,
        since_at=alert.since_at,
        tested=alert.tested,
        failed=alert.failed,
        tested_before=alert.tested_before,
        failed_before=alert.failed_before,
        seen=alert.seen,
        cause=alert.cause,
        exposures=alert.exposures,
        is_open=closing is None,
        closed_at=None if closing is None else closing.at,
        closed_by=None if closing is None else closing.by.username,
        closed_because="" if closing is None else closing.reason,
        is_usual=None if closing is None else closing.is_usual,
    )
