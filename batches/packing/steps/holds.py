"""Lots that are ours again come under the holds that were placed on what they were made of."""

from __future__ import annotations

from collections.abc import Sequence

from inventory.stock.models import Disposition, HeldLot, Lot
from inventory.stock.selectors.lineage import upstream_ids
from inventory.stock.steps.holding import set_disposition
from shopfloor.stamp import Stamp


def rejoin_holds(lots: Sequence[Lot], stamp: Stamp) -> None:
    """Put locked lots under every open hold upstream of them.

    A hold stops only what was ours when it was placed.

    Two statements when nothing upstream is held. A rejected lot stays rejected.
    """
    ids = upstream_ids(lot.pk for lot in lots)
    open_holds = _open_holds(ids)
    if not open_holds:
        return
    for lot in lots:
        if lot.disposition == Disposition.REJECTED:
            continue
        upstream = upstream_ids([lot.pk])
        missing = {hold for held, hold in open_holds if held in upstream} - {
            hold for held, hold in open_holds if held == lot.pk
        }
        if not missing:
            continue
        before = _before(lot)
        HeldLot.objects.bulk_create(
            [HeldLot(hold_id=hold, lot=lot, before=before) for hold in sorted(missing)]
        )
        if lot.disposition != Disposition.HELD:
            set_disposition(
                lot,
                Disposition.HELD,
                stamp,
                allowed_from=[Disposition.RELEASED, Disposition.QUARANTINED],
            )


def _open_holds(lot_ids: set[int]) -> set[tuple[int, int]]:
    """Lot and hold ids of the open holds on these lots."""
    rows = HeldLot.objects.filter(lot__in=lot_ids, hold__release__isnull=True)
    return set(rows.values_list("lot_id", "hold_id"))


def _before(lot: Lot) -> str:
    """What the lot goes back to when nothing holds it any more."""
    if lot.disposition != Disposition.HELD:
        return lot.disposition
    first = HeldLot.objects.filter(lot=lot, hold__release__isnull=True).order_by("pk").first()
    return Disposition.QUARANTINED if first is None else first.before
