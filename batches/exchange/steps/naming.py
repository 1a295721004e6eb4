"""Which lots a row means: one by its code, what a batch made, or those of an item."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from batches.exchange.rules.lists import LotUsed
from batches.exchange.selectors.made import made_lots
from batches.runs.errors import MaterialShortError
from batches.runs.rules import LotOffer, split_by_first_expired
from batches.runs.steps.drafts import LotUse
from inventory.catalog.models import Item
from inventory.catalog.selectors import measure_of
from inventory.stock.models import Lot
from inventory.stock.selectors.lots import usable_lots, usable_until
from shopfloor.errors import NotFoundError
from shopfloor.units import to_base


def lots_meant(used: LotUsed, at: datetime) -> list[Lot]:
    """The lots, in the order in which they are to be taken. One query.

    Raises:
        NotFoundError: no such lot, or nothing there that the batch made.
    """
    if used.by == "batch":
        return made_lots(used.code, used.grade)
    if used.by == "item":
        item = Item.objects.get(code=used.code)
        return list(usable_lots(item_ids=[item.pk], at=at))
    found = list(Lot.objects.filter(code=used.code).select_related("item"))
    if not found:
        raise NotFoundError("No lot has this code.", lot=used.code)
    return found


def uses_meant(used: LotUsed, at: datetime) -> list[LotUse]:
    """What a run took of them: each scanned, or the amount spread over them.

    Raises:
        NotFoundError, UnitMismatchError: as named.
        MaterialShortError: they hold less.
    """
    lots = lots_meant(used, at)
    if used.amount is None:
        return [LotUse(lot.code) for lot in lots]
    item = lots[0].item if lots else Item.objects.get(code=used.code)
    qty_base = to_base(amount=used.amount, unit=used.unit or "each", item=measure_of(item))
    if used.by == "lot":
        return [LotUse(used.code, qty_base)]
    return [LotUse(lot.code, part) for lot, part in spread(lots, qty_base)]


def spread(lots: Sequence[Lot], qty_base: int) -> list[tuple[Lot, int]]:
    """An amount taken of several lots, first expired first.

    Raises:
        MaterialShortError: they hold less.
    """
    offers = [
        LotOffer(
            lot_id=lot.pk,
            available_base=lot.on_hand_base,
            usable_until=usable_until(lot),
            born_at=lot.born_at,
        )
        for lot in lots
    ]
    proposal = split_by_first_expired(qty_base, offers)
    if proposal.short_base:
        raise MaterialShortError(
            "These lots hold less.",
            lots=[lot.code for lot in lots],
            wanted_base=qty_base,
            missing_base=proposal.short_base,
        )
    by_id = {lot.pk: lot for lot in lots}
    return [(by_id[lot_id], part) for lot_id, part in proposal.takes]
