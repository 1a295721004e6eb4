"""What is watched: the checks of one definition, or the complaints of one defect, one by one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from itertools import pairwise
from typing import Final, NamedTuple

from django.db.models import Count, Max, QuerySet, Sum
from django.db.models.functions import TruncDate

from batches.packing.models import Complaint, ShipmentLine
from batches.quality.models import Check, CheckDefinition
from batches.runs.models import ScrapReason
from batches.watch.models import Alert
from batches.watch.rules.rises import Rise, Tested, rise_of
from batches.watch.rules.wording import Seen
from inventory.stock.selectors.lineage import is_standing
from shopfloor.days import day_start, shop_day, shop_zone

DAYS: Final = 365
"""So far back a usual rate is looked for."""
BEGINNINGS_MAX: Final = 400
"""A rise is looked for among so many tests, the newest."""
SENT_DAYS: Final = 90
"""Complaints are in proportion to the pieces that left in so many days before."""


class WatchedCheck(NamedTuple):
    """A check definition that is watched: it has a defect."""

    definition_id: int
    definition: str
    defect: str
    stage: str


class FoundRise(NamedTuple):
    """A rise beyond chance.

    Attributes:
        odds: That it is one.
        since_at: When that was recorded with which it began most likely.
    """

    odds: float
    since_at: datetime
    seen: Seen


class _Row(NamedTuple):
    on: date
    recorded_at: datetime
    test: Tested


def checks_watched(ids: Sequence[int] | None = None) -> list[WatchedCheck]:
    """Check definitions that have a defect, those named or all. One statement."""
    found = CheckDefinition.objects.filter(defect__isnull=False)
    if ids is not None:
        found = found.filter(pk__in=ids)
    columns = ("pk", "code", "defect__code", "stage__code")
    return [WatchedCheck(*row) for row in found.order_by("pk").values_list(*columns)]


def defects_complained_of(ids: Sequence[int] | None = None) -> list[str]:
    """Codes of defects that somebody complained of, those named or all. One statement."""
    found = ScrapReason.objects.filter(complaints__isnull=False)
    if ids is not None:
        found = found.filter(pk__in=ids)
    return list(found.order_by("pk").distinct().values_list("code", flat=True))


def rise_in_checks(watched: WatchedCheck, *, now: datetime) -> FoundRise | None:
    """Whether pieces fail a check more often than before. Two statements.

    The first check of a lot or batch counts, as it came; one that was replaced does not.
    """
    checks = Check.objects.filter(
        definition=watched.definition_id,
        is_first=True,
        replaced_by__isnull=True,
        recorded_at__gt=now - timedelta(days=DAYS),
    ).order_by("pk")
    rows = [
        _Row(shop_day(at), recorded_at, Tested(tested, failed))
        for at, recorded_at, tested, failed in checks.values_list(
            "at", "recorded_at", "tested", "failed"
        )
    ]
    ended = Alert.objects.filter(definition=watched.definition_id)
    return _rise(rows, ended, watched.definition)


def rise_in_complaints(defect: str, *, now: datetime) -> FoundRise | None:
    """Whether complaints of a defect come more often than before. Three statements.

    Those told on one day are one test; how many pieces one is of does not count, for they were one
    parcel.
    """
    first_on = shop_day(now) - timedelta(days=DAYS)
    told = (
        Complaint.objects.filter(
            defect__code=defect, replaced_by__isnull=True, told_on__gte=first_on
        )
        .order_by("told_on")
        .values("told_on")
        .annotate(recorded_at=Max("recorded_at"), complaints=Count("pk"))
    )
    days = [(row["told_on"], row["recorded_at"], row["complaints"]) for row in told]
    sent = _sent_by_day(first_on - timedelta(days=SENT_DAYS))
    starts = [max(first_on, min(sent, default=first_on)), *(day for day, _, _ in days)]
    rows = [
        _Row(day, recorded_at, Tested(_sent_for(sent, start, day), complaints))
        for (start, day), (_, recorded_at, complaints) in zip(pairwise(starts), days, strict=True)
    ]
    ended = Alert.objects.filter(defect__code=defect, definition__isnull=True)
    return _rise(rows, ended, "")


def _rise(rows: list[_Row], alerts: QuerySet[Alert], definition: str) -> FoundRise | None:
    """A rise since the last alert was closed; what closed alerts were about is left out.

    One statement.
    """
    last_closed_at = None
    closed = alerts.filter(closing__isnull=False).order_by("closing__recorded_at")
    for since_at, closed_at, is_usual in closed.values_list(
        "since_at", "closing__recorded_at", "closing__is_usual"
    ):
        last_closed_at = closed_at
        if not is_usual:
            rows = [row for row in rows if not since_at <= row.recorded_at <= closed_at]
    first = len(rows) - BEGINNINGS_MAX
    if last_closed_at is not None:
        first = max(first, sum(row.recorded_at <= last_closed_at for row in rows))
    first = max(0, first)
    if first >= len(rows):
        return None
    rise = rise_of([row.test for row in rows], first=first)
    return _found(rows, rise, definition) if rise.is_seen else None


def _found(rows: Sequence[_Row], rise: Rise, definition: str) -> FoundRise:
    before, since = rows[: rise.since], rows[rise.since :]
    seen = Seen(
        definition=definition,
        since_on=since[0].on,
        tested=round(sum(row.test.pieces for row in since)),
        failed=sum(row.test.failed for row in since),
        tested_before=round(sum(row.test.pieces for row in before)),
        failed_before=sum(row.test.failed for row in before),
    )
    return FoundRise(rise.odds, since[0].recorded_at, seen)


def _sent_by_day(first_on: date) -> dict[date, int]:
    """Pieces that left by standing shipments. One statement."""
    lines = (
        ShipmentLine.objects.filter(
            is_standing("shipment__posting"), shipment__posting__at__gte=day_start(first_on)
        )
        .order_by()
        .values(on=TruncDate("shipment__posting__at", tzinfo=shop_zone()))
        .annotate(pieces=Sum("qty_base"))
    )
    return {row["on"]: row["pieces"] for row in lines}


def _sent_for(sent: dict[date, int], start: date, end: date) -> float:
    """Pieces that left on average in as many days as lie between two complaints; at least one."""
    days = max(1, (end - start).days)
    window: dict[date, int] = defaultdict(int, sent)
    lately = sum(window[end - timedelta(days=back)] for back in range(SENT_DAYS))
    return max(1.0, lately / SENT_DAYS * days)
