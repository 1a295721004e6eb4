"""Reads of what batches made, for rows that name a lot by its batch."""

from __future__ import annotations

from django.db.models import F

from inventory.stock.models import Lot
from shopfloor.errors import NotFoundError


def made_lots(batch_code: str, grade: str) -> list[Lot]:
    """Lots of a batch's item that its standing entries made, oldest first. One query.

    Raises:
        NotFoundError: it made none of that grade that still holds something.
    """
    found = Lot.objects.filter(
        movements__posting__entry__batch__code=batch_code,
        movements__posting__entry__batch__item=F("item"),
        movements__posting__reversed_by__isnull=True,
        movements__qty_base__gt=0,
        grade=grade,
        on_hand_base__gt=0,
    )
    lots = list(found.order_by("id"))
    if not lots:
        raise NotFoundError(
            "Nothing is there that this batch made of that grade.", batch=batch_code, grade=grade
        )
    return lots
