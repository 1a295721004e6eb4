"""Holds: one stop on a lot and on all it flowed into that is still ours, and the way out of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from inventory.stock.errors import HoldEndedError, WrongDispositionError
from inventory.stock.models import Disposition, EventKind, HeldLot, Hold, HoldRelease, Lot, LotEvent
from inventory.stock.selectors.lineage import downstream_ids
from shopfloor.stamp import Stamp


def place_hold(lot: Lot, stamp: Stamp) -> Hold:
    """Hold a locked lot and every lot downstream of it that still holds something.

    The downstream lots are locked after their source and found again until no new one appears:
        an entry that was under
    way when the hold began has then ended, and what it made is in the net. A deadlock with such an
    entry is possible
    and rare; the operation is tried again.
    """
    ids = _lock_downstream(lot)
    hold = Hold.objects.create(
        lot=lot, at=stamp.at, recorded_at=stamp.now, by=stamp.by, reason=stamp.reason
    )
    _stop(hold, Lot.objects.filter(pk__in=ids).order_by("pk"), stamp)
    return hold


def _lock_downstream(lot: Lot) -> set[int]:
    locked: set[int] = {lot.pk}
    while True:
        found = downstream_ids([lot.pk]) - locked
        if not found:
            return locked
        list(
            Lot.objects.select_for_update()
            .filter(pk__in=found)
            .order_by("pk")
            .values_list("pk", flat=True)
        )
        locked |= found


def _stop(hold: Hold, lots: Iterable[Lot], stamp: Stamp) -> None:
    """Put locked lots under a hold.

    One that is rejected stays rejected, one that is empty and not the cause is left.
    """
    stopped = [
        lot
        for lot in lots
        if lot.disposition != Disposition.REJECTED
        and (lot.on_hand_base > 0 or lot.pk == hold.lot_id)
    ]
    HeldLot.objects.bulk_create(
        [HeldLot(hold=hold, lot=lot, before=_before_holds(lot)) for lot in stopped]
    )
    _set_dispositions([(lot, Disposition.HELD) for lot in stopped], stamp)


def _before_holds(lot: Lot) -> str:
    """What the lot goes back to when nothing holds it any more."""
    if lot.disposition != Disposition.HELD:
        return lot.disposition
    first = HeldLot.objects.filter(lot=lot, hold__release__isnull=True).order_by("pk").first()
    assert first is not None, "a held lot has an open hold"
    return first.before


def end_hold(hold: Hold, stamp: Stamp) -> list[Lot]:
    """Release a hold; its lots go back to what they were unless another hold still has them.

    Returns:
        The lots that are free again.

    Raises:
        HoldEndedError: it was released before.
    """
    held = list(HeldLot.objects.filter(hold=hold).order_by("lot_id"))
    lots = {
        lot.pk: lot
        for lot in Lot.objects.select_for_update()
        .filter(pk__in=[row.lot_id for row in held])
        .order_by("pk")
    }
    if HoldRelease.objects.filter(hold=hold).exists():
        raise HoldEndedError("This hold was released before.", hold=hold.code)
    HoldRelease.objects.create(
        hold=hold, at=stamp.at, recorded_at=stamp.now, by=stamp.by, reason=stamp.reason
    )
    still = set(
        HeldLot.objects.filter(lot__in=lots, hold__release__isnull=True).values_list(
            "lot_id", flat=True
        )
    )
    freed = [
        (lots[row.lot_id], Disposition(row.before))
        for row in held
        if row.lot_id not in still and lots[row.lot_id].disposition == Disposition.HELD
    ]
    _set_dispositions(freed, stamp)
    return [lot for lot, _ in freed]


def set_disposition(
    lot: Lot, after: Disposition, stamp: Stamp, *, allowed_from: Sequence[Disposition]
) -> None:
    """Change a locked lot's disposition.

    Raises:
        WrongDispositionError: it is not in one of the states that lead there.
    """
    if lot.disposition not in allowed_from:
        raise WrongDispositionError(
            f"The lot is {lot.disposition} and cannot become {after} from there.",
            lot=lot.code,
            disposition=lot.disposition,
            possible_from=[str(state) for state in allowed_from],
        )
    _set_dispositions([(lot, after)], stamp)


def _set_dispositions(changes: Sequence[tuple[Lot, Disposition]], stamp: Stamp) -> None:
    """Note the changes as events and bring the caches along.

    Three statements for any number of lots.
    """
    changes = [(lot, after) for lot, after in changes if lot.disposition != after]
    LotEvent.objects.bulk_create(
        [
            LotEvent(
                lot=lot,
                kind=EventKind.DISPOSITION,
                at=stamp.at,
                recorded_at=stamp.now,
                by=stamp.by,
                before=lot.disposition,
                after=after,
                reason=stamp.reason,
            )
            for lot, after in changes
        ]
    )
    for lot, after in changes:
        lot.disposition = after
        lot.touched_at = max(lot.touched_at, stamp.at)
    Lot.objects.bulk_update([lot for lot, _ in changes], ["disposition", "touched_at"])


def born_disposition(sources: Iterable[Lot]) -> Disposition:
    """What a lot made of these is born as: held if one of them is held now, else released."""
    held = any(lot.disposition == Disposition.HELD for lot in sources)
    return Disposition.HELD if held else Disposition.RELEASED


def inherit_holds(sources: Sequence[Lot], made: Sequence[Lot]) -> None:
    """Put lots made of held lots under the same holds. No statement when no source is held.

    A part of a held lot goes back to what its parent was; a thing made of held lots goes back to
    released.
    """
    held_ids = [lot.pk for lot in sources if lot.disposition == Disposition.HELD]
    if not held_ids:
        return
    open_rows = HeldLot.objects.filter(lot__in=held_ids, hold__release__isnull=True).order_by(
        "hold_id", "lot_id"
    )
    by_hold = {row.hold_id: row for row in open_rows}
    HeldLot.objects.bulk_create(
        [
            HeldLot(
                hold_id=hold_id,
                lot=lot,
                before=row.before if lot.parent_id in held_ids else Disposition.RELEASED,
            )
            for hold_id, row in by_hold.items()
            for lot in made
        ]
    )
