"""Hold tags: which lots may not be used, and why."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from batches.labels.errors import NotOnHoldError
from batches.labels.rules.papers_stock import HoldReason, HoldTag
from batches.labels.selectors.asked import in_order, refuse_all
from batches.labels.selectors.lots import LOOK
from batches.labels.selectors.moments import minute_text
from inventory.catalog.selectors import measure_of
from inventory.stock.models import HeldLot, Lot
from inventory.stock.selectors.among import Among, AmongCodes
from shopfloor.units import display


def hold_tags(codes: Sequence[str]) -> list[HoldTag]:
    """Lots on hold, in the order asked. Two statements.

    Raises:
        NotFoundError: naming all codes that no lot has.
        NotOnHoldError: naming all lots without an open hold.
    """
    rows = Lot.objects.select_related("item", "place").filter(AmongCodes("code", codes))
    lots = in_order({lot.code: lot for lot in rows}, codes, noun="lot", look=LOOK)
    reasons = _reasons(lots)
    refuse_all(
        NotOnHoldError,
        [lot.code for lot in lots if lot.pk not in reasons],
        why="Not on hold",
        look="Hold the lot first, or print its sticker.",
    )
    return [_tag(lot, reasons[lot.pk]) for lot in lots]


def _reasons(lots: Sequence[Lot]) -> dict[int, tuple[HoldReason, ...]]:
    """Open holds, oldest first, by id of the lot. One statement."""
    held = (
        HeldLot.objects.filter(Among("lot", {lot.pk for lot in lots}), hold__release__isnull=True)
        .select_related("hold__by", "hold__lot")
        .order_by("hold_id")
    )
    found: dict[int, tuple[HoldReason, ...]] = defaultdict(tuple)
    for row in held:
        hold = row.hold
        reason = HoldReason(
            hold=hold.code,
            why=hold.reason,
            since=minute_text(hold.at),
            by=hold.by.display_name or hold.by.username,
            source="" if hold.lot_id == row.lot_id else hold.lot.code,
        )
        found[row.lot_id] += (reason,)
    return found


def _tag(lot: Lot, reasons: tuple[HoldReason, ...]) -> HoldTag:
    item = lot.item
    return HoldTag(
        code=lot.code,
        item=item.code,
        item_name=item.name,
        amount=display(lot.on_hand_base, item.display_unit, measure_of(item)),
        place=lot.place.code,
        reasons=reasons,
    )
