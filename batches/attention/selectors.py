"""What stands where in the shop today, for the first page."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import islice
from typing import NamedTuple

from django.db.models import Count, Q, Sum
from django.db.models.functions import Coalesce, Least

from batches.packing.selectors import promised_base
from batches.runs.models import Batch, BatchState
from batches.watch.selectors import open_alerts
from inventory.catalog.models import Item
from inventory.catalog.selectors import measure_of
from inventory.reorder.selectors import reorder_list
from inventory.stock.models import Disposition, Hold, Lot
from inventory.stock.selectors.lots import NEVER, usable_until
from shopfloor.days import shop_day
from shopfloor.money import money_shown
from shopfloor.units import display

MOST = 8  # lines of each list; the lists of the API have all
EXPIRING_DAYS = 21


class RunningRow(NamedTuple):
    """A batch that runs."""

    code: str
    item: str
    stage: str


class HeldRow(NamedTuple):
    """An open hold."""

    code: str
    lot: str
    item: str
    reason: str
    lots: int


class AlertRow(NamedTuple):
    """An open alert: something fails more often than before."""

    code: str
    defect: str
    seen: str
    cause: str


class ExpiringRow(NamedTuple):
    """A lot that soon may no longer be used: it expires, or was open long enough."""

    lot: str
    item: str
    amount: str
    use_by: str
    is_past: bool


class DueRow(NamedTuple):
    """An item to order today."""

    item: str
    position: str
    order: str
    supplier: str


class Overview(NamedTuple):
    """The shop today.

    Attributes:
        lots: How many of ours hold something.
        value: What they are worth, for people.
        quarantined: How many of them wait for a test.
    """

    lots: int
    items: int
    value: str
    quarantined: int
    alerts: Sequence[AlertRow]
    due: Sequence[DueRow]
    running: Sequence[RunningRow]
    holds: Sequence[HeldRow]
    expiring: Sequence[ExpiringRow]


def overview(*, now: datetime) -> Overview:
    """The shop at a moment. At most sixteen statements, whatever its size."""
    sums = Lot.objects.filter(on_hand_base__gt=0, owner="").aggregate(
        lots=Count("id"),
        items=Count("item", distinct=True),
        value=Sum("value_micro"),
        quarantined=Count("id", filter=Q(disposition=Disposition.QUARANTINED)),
    )
    return Overview(
        lots=sums["lots"],
        items=sums["items"],
        value=money_shown(int(sums["value"] or 0)),
        quarantined=sums["quarantined"],
        alerts=_alerts(),
        due=_due(now),
        running=_running(),
        holds=_holds(),
        expiring=_expiring(now),
    )


def _alerts() -> list[AlertRow]:
    return [
        AlertRow(alert.code, alert.defect.name, alert.seen, alert.cause)
        for alert in open_alerts()[:MOST]
    ]


def _due(now: datetime) -> list[DueRow]:
    rows = reorder_list(on=shop_day(now), promised_base=promised_base())
    return [
        DueRow(
            item=f"{row.item.code} {row.item.name}",
            position=_shown(row.position_base, row.item),
            order="" if row.advice is None else _shown(row.advice.suggested_base, row.item),
            supplier="" if row.offer is None else row.offer.supplier.name,
        )
        for row in islice((row for row in rows if row.is_due), MOST)
    ]


def _shown(qty_base: int, item: Item) -> str:
    return display(qty_base, item.display_unit, measure_of(item))


def _running() -> list[RunningRow]:
    found = Batch.objects.filter(state=BatchState.RUNNING).select_related("item", "stage")
    return [
        RunningRow(batch.code, f"{batch.item.code} {batch.item.name}", batch.stage.name)
        for batch in found.order_by("-id")[:MOST]
    ]


def _holds() -> list[HeldRow]:
    found = (
        Hold.objects.filter(release__isnull=True)
        .select_related("lot__item")
        .annotate(lots=Count("held_lots"))
        .order_by("-id")[:MOST]
    )
    return [
        HeldRow(hold.code, hold.lot.code, hold.lot.item.name, hold.reason, hold.lots)
        for hold in found
    ]


def _expiring(now: datetime) -> list[ExpiringRow]:
    found = (
        Lot.objects.filter(on_hand_base__gt=0, owner="", disposition=Disposition.RELEASED)
        .annotate(ends_at=Least(Coalesce("discard_at", NEVER), Coalesce("expires_at", NEVER)))
        .filter(ends_at__lt=now + timedelta(days=EXPIRING_DAYS))
        .select_related("item")
        .order_by("ends_at", "id")[:MOST]
    )
    rows = []
    for lot in found:
        ends_at = usable_until(lot)
        assert ends_at is not None, "the filter asks for one"
        rows.append(
            ExpiringRow(
                lot=lot.code,
                item=lot.item.name,
                amount=_shown(lot.on_hand_base, lot.item),
                use_by=shop_day(ends_at).isoformat(),
                is_past=ends_at < now,
            )
        )
    return rows
