"""Reads of lots, for rows that name them by the batch that made them."""

from __future__ import annotations

from datetime import datetime

from django.db.models import DateTimeField, F, QuerySet, TextField

from inventory.stock.models import Lot
from shopfloor.prepared import Given, Prepared


def made_lot_ids(batch_code: str, grade: str) -> list[int]:
    """Ids of the lots of a batch's item that its standing entries made. One query."""
    return list(_made(batch_code, grade).values_list("pk", flat=True))


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
