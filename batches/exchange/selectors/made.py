"""Reads of lots, for rows that name them by the batch that made them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db.models import DateTimeField, F, QuerySet, TextField

from batches.exchange.rules.lists import LotUsed
from batches.packing.models import ShipmentLine
from batches.packing.selectors.complaints import parts_of
from inventory.stock.models import Lot
from inventory.stock.selectors.among import Among
from inventory.stock.selectors.lineage import is_standing
from shopfloor.prepared import Given, Prepared


def made_lot_ids(batch_code: str, grade: str) -> list[int]:
    """Ids of the lots of a batch's item that its standing entries made. One query."""
    return list(_made(batch_code, grade).values_list("pk", flat=True))


def lot_ids_of(used: LotUsed) -> list[int]:
    """Ids of the lot of a code, or of those that a batch made. One query."""
    if used.by == "lot":
        return list(Lot.objects.filter(code=used.code).values_list("pk", flat=True))
    return made_lot_ids(used.code, used.grade)


def lines_left(*, by: datetime, box_code: str, lot_ids: Iterable[int] | None) -> list[ShipmentLine]:
    """What left by then in a box, or in none, of some lots and their parts. At most two queries."""
    lines = ShipmentLine.objects.filter(
        is_standing("shipment__posting"), shipment__posting__at__lte=by
    ).select_related("shipment__posting", "lot")
    lines = lines.filter(box__code=box_code) if box_code else lines.filter(box__isnull=True)
    if lot_ids is not None:
        parts = set().union(*parts_of(lot_ids).values())
        lines = lines.filter(Among("lot", parts))
    return list(lines.order_by("pk"))


def lot_of_entry(batch_code: str, at: datetime, grade: str) -> str | None:
    """Code of the lot that the batch's standing entry of that time made. One query."""
    return next(iter(_codes_of_entry(batch_code=batch_code, grade=grade, at=at)), None)


def _made(batch_code: str | Given, grade: str | Given, **more: Given) -> QuerySet[Lot]:
    """`more` is of the same movement."""
    return Lot.objects.filter(
        movements__posting__entry__batch__code=batch_code,
        movements__posting__entry__batch__item=F("item"),
        movements__posting__reversed_by__isnull=True,
        movements__qty_base__gt=0,
        grade=grade,
        **more,
    )


_codes_of_entry = Prepared(
    lambda: _made(
        Given("batch_code", TextField()),
        Given("grade", TextField()),
        movements__posting__at=Given("at", DateTimeField()),
    ).values_list("code", flat=True)
)
