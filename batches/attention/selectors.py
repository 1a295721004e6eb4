"""What stands where in the shop today, for the first page."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import islice
from typing import NamedTuple

from django.db.models import Count, Sum

from batches.packing.selectors import promised_base
from batches.runs.models import Batch, BatchState
from inventory.catalog.models import Item
from inventory.reorder.selectors import reorder_list
from inventory.stock.models import Disposition, Hold, Lot
from inventory.stock.selectors.amounts import amount_row
from shopfloor.days import shop_day
from shopfloor.money import money_shown

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
    due: Sequence[DueRow]
    running: Sequence[RunningRow]
    holds: Sequence[HeldRow]
    expiring: Sequence[ExpiringRow]


def overview(*, now: datetime) -> Overview:
    """The shop at a moment. At most sixteen statements, whatever its size."""
    on_hand = Lot.objects.filter(on_hand_base__gt=0, owner="")
    sums = on_hand.aggregate(
        lots=Count("id"), items=Count("item", distinct=True), value=Sum("value_micro")
    )
    return Overview(
        lots=sums["lots"],
        items=sums["items"],
        value=money_shown(int(sums["value"] or 0)),
        quarantined=on_hand.filter(disposition=Disposition.QUARANTINED).count(),
        due=_due(now),
        running=_running(),
        holds=_holds(),
        expiring=_expiring(now),
    )


def _due(now: datetime) -> list[DueRow]:
    rows = [
        row for row in reorder_list(on=shop_day(now), promised_base=promised_base()) if row.is_due
    ]
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
    shown = amount_row(qty_base, dimension=item.dimension, unit=item.display_unit)
    return f"{shown.amount} {shown.unit}"


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
        rows.append(
            ExpiringRow(
                lot=lot.code,
                item=lot.item.name,
                amount=_shown(lot.on_hand_base, lot.item),
                expires_on=shop_day(lot.expires_at).isoformat(),
                is_expired=lot.expires_at < now,
            )
        )
    return rows
