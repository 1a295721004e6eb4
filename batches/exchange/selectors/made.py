"""Reads of lots, for rows that name them by the batch that made them."""

from __future__ import annotations

from django.db.models import F

from inventory.stock.models import Lot


def made_lot_ids(batch_code: str, grade: str) -> list[int]:
    """Ids of the lots of a batch's item that its standing entries made. One query."""
    found = Lot.objects.filter(
        movements__posting__entry__batch__code=batch_code,
        movements__posting__entry__batch__item=F("item"),
        movements__posting__reversed_by__isnull=True,
        movements__qty_base__gt=0,
        grade=grade,
    )
    return list(found.values_list("pk", flat=True))
