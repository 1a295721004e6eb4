"""What stands where in the shop today, for the first page."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from django.db.models import Count, Sum

from batches.runs.models import Batch, BatchState
from inventory.stock.models import Disposition, Hold, Lot
from inventory.stock.selectors.amounts import amount_row
from shopfloor.days import shop_day
from shopfloor.money import money_text

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


class ExpiringRow(NamedTuple):
    """A lot that soon may no longer be used."""

    lot: str
    item: str
    amount: str
    expires_on: str
    is_expired: bool


class Overview(NamedTuple):
    """The shop today.

    Attributes:
        lots: How many of ours hold something.
        value: What they are worth, a decimal string.
        quarantined: How many of them wait for a test.
    """

    lots: int
    items: int
    value: str
    quarantined: int
    running: Sequence[RunningRow]
    holds: Sequence[HeldRow]
    expiring: Sequence[ExpiringRow]


def overview(*, now: datetime) -> Overview:
    """The shop at a moment. Five statements, whatever its size."""
    on_hand = Lot.objects.filter(on_hand_base__gt=0, owner="")
    sums = on_hand.aggregate(
        lots=Count("id"), items=Count("item", distinct=True), value=Sum("value_micro")
    )
    return Overview(
        lots=sums["lots"],
        items=sums["items"],
        value=money_text(int(sums["value"] or 0)),
        quarantined=on_hand.filter(disposition=Disposition.QUARANTINED).count(),
        running=_running(),
        holds=_holds(),
        expiring=_expiring(now),
    )


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
        Lot.objects.filter(
            on_hand_base__gt=0,
            owner="",
            disposition=Disposition.RELEASED,
            expires_at__lt=now + timedelta(days=EXPIRING_DAYS),
        )
        .select_related("item")
        .order_by("expires_at", "id")[:MOST]
    )
    rows = []
    for lot in found:
        assert lot.expires_at is not None, "the filter asks for a date"
        item = lot.item
        shown = amount_row(lot.on_hand_base, dimension=item.dimension, unit=item.display_unit)
        rows.append(
            ExpiringRow(
                lot=lot.code,
                item=item.name,
                amount=f"{shown.amount} {shown.unit}",
                expires_on=shop_day(lot.expires_at).isoformat(),
                is_expired=lot.expires_at < now,
            )
        )
    return rows
