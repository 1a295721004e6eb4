"""Lot stickers: what a lot is, since when, until when, and what its safety data sheet says."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from batches.labels.rules.papers import LotLabel
from batches.labels.selectors.asked import in_order
from batches.labels.selectors.moments import minute_text
from batches.labels.selectors.origins import Origin, origins
from inventory.stock.models import Lot
from inventory.stock.selectors.among import AmongCodes
from inventory.stock.selectors.lots import usable_until
from shopfloor.days import day_end, shop_day

LOOK = "Check it, or scan the sticker."


def lot_labels(codes: Sequence[str]) -> list[LotLabel]:
    """Lots, in the order asked. Four statements.

    Raises:
        NotFoundError: naming all codes that no lot has.
    """
    rows = Lot.objects.select_related("item").filter(AmongCodes("code", codes))
    lots = in_order({lot.code: lot for lot in rows}, codes, noun="lot", look=LOOK)
    born = origins(lot.pk for lot in lots)
    return [_label(lot, born[lot.pk]) for lot in lots]


def _label(lot: Lot, origin: Origin) -> LotLabel:
    item = lot.item
    return LotLabel(
        code=lot.code,
        item=item.code,
        item_name=item.name,
        dates=(origin.word, origin.on.isoformat()),
        use_by=_until(usable_until(lot)),
        supplier_lot=lot.supplier_lot_code,
        hazard_text=item.hazard_text,
        pictograms=tuple(filter(None, item.hazard_pictograms.split(","))),
        opened_life=_life(item.opened_life_minutes),
        opened="" if lot.opened_at is None else minute_text(lot.opened_at),
        discard_by=_until(lot.discard_at),
    )


def _life(minutes: int | None) -> str:
    """In the largest unit that it is a whole number of: `30 days`, `8 hours`, `45 minutes`."""
    if minutes is None:
        return ""
    units = ((24 * 60, "day"), (60, "hour"), (1, "minute"))
    size, unit = next(each for each in units if minutes % each[0] == 0)
    count = minutes // size
    return f"{count} {unit}" if count == 1 else f"{count} {unit}s"


def _until(moment: datetime | None) -> str:
    """The last day, or day and time where it ends within a day, as pot life does."""
    if moment is None:
        return ""
    day = shop_day(moment)
    return day.isoformat() if moment == day_end(day) else minute_text(moment)
