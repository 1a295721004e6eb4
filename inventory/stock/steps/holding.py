"""Holds: one stop on a lot and on all it flowed into that is still ours, and the way out of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from django.db.models import Max, Q

from inventory.stock.errors import HoldEndedError, TooEarlyError, WrongDispositionError
from inventory.stock.models import (
    Disposition,
    EventKind,
    HeldLot,
    Hold,
    HoldRelease,
    Lot,
    LotEvent,
    Posting,
)
from inventory.stock.selectors.among import Among
from inventory.stock.selectors.lineage import downstream_ids, upstream_ids
from shopfloor.stamp import Stamp


def place_hold(lot: Lot, stamp: Stamp) -> Hold:
    """Hold a locked lot and every lot downstream of it that still holds something.

    The downstream lots are locked after their source and found again until no new one appears: an
    entry that was under way when the hold began has then ended, and what it made is in the net. A
    deadlock with such an entry is possible and rare; the operation is tried again.
    """
    ids = lock_downstream([lot.pk])
    hold = Hold.objects.create(
        lot=lot, at=stamp.at, recorded_at=stamp.now, by=stamp.by, reason=stamp.reason
    )
    lots = [
        each
        for each in Lot.objects.filter(Among("pk", ids)).order_by("pk")
        if each.on_hand_base > 0 or each.pk == lot.pk
    ]
    _stop({hold.pk: lots}, stamp)
    return hold


def rejoin_holds(lots: Iterable[Lot], stamp: Stamp) -> None:
    """Put locked lots that were empty and hold something again under the open holds upstream.

    A hold leaves what is empty. One statement for no hold upstream, one more a lot for one, and
    what it takes to note them; none for no lots.
    """
    ids = {lot.pk: lot for lot in lots}
    open_holds = _open_holds(upstream_ids(ids))
    joining: dict[int, list[Lot]] = {}
    for lot in ids.values() if open_holds else ():
        upstream = upstream_ids([lot.pk])
        missing = {hold for held, hold in open_holds if held in upstream} - {
            hold for held, hold in open_holds if held == lot.pk
        }
        for hold in sorted(missing):
            joining.setdefault(hold, []).append(lot)
    _stop(joining, stamp)


def _open_holds(lot_ids: Iterable[int]) -> set[tuple[int, int]]:
    """Lot and hold of each open hold on these lots. No statement for no lots."""
    wanted = set(lot_ids)
    if not wanted:
        return set()
    rows = HeldLot.objects.filter(Among("lot", wanted), hold__release__isnull=True)
    return set(rows.values_list("lot_id", "hold_id"))


def lock_downstream(lot_ids: Iterable[int]) -> set[int]:
    """Lock all that flowed out of locked lots, and look again until no new one appears.

    Returns:
        The ids of all of them, those given among them.
    """
    starts = set(lot_ids)
    locked = set(starts)
    while True:
        found = downstream_ids(starts) - locked
        if not found:
            return locked
        list(
            Lot.objects.select_for_update()
            .filter(Among("pk", found))
            .order_by("pk")
            .values_list("pk", flat=True)
        )
        locked |= found


def _stop(lots_by_hold: Mapping[int, Sequence[Lot]], stamp: Stamp) -> None:
    """Put locked lots under holds. A rejected one stays rejected: that stops it more."""
    lots = {lot.pk: lot for stopped in lots_by_hold.values() for lot in stopped}
    if not lots:
        return
    before = _before_holds(lots.values())
    HeldLot.objects.bulk_create(
        [
            HeldLot(hold_id=hold, lot=lot, before=before[lot.pk])
            for hold, stopped in lots_by_hold.items()
            for lot in stopped
        ]
    )
    _set_dispositions(
        [
            (lot, Disposition.HELD)
            for lot in lots.values()
            if lot.disposition != Disposition.REJECTED
        ],
        stamp,
    )


def _before_holds(lots: Iterable[Lot]) -> dict[int, str]:
    """What each lot goes back to when nothing holds it any more, by id. At most one statement."""
    before = {lot.pk: str(lot.disposition) for lot in lots}
    held = [pk for pk, disposition in before.items() if disposition == Disposition.HELD]
    if held:
        rows = HeldLot.objects.filter(Among("lot", held), hold__release__isnull=True)
        # Newest first, so that the first hold has the last word.
        before |= dict(rows.order_by("-pk").values_list("lot_id", "before"))
    return before


def untested_under_hold(lots: Iterable[Lot], at: datetime) -> set[int]:
    """Ids of lots, held at a time, that waited for a test when they were: a hold does not end that.

    At most one statement.
    """
    ids = {lot.pk for lot in lots}
    if not ids:
        return set()
    rows = HeldLot.objects.filter(
        Q(hold__release__isnull=True) | Q(hold__release__at__gt=at),
        Among("lot", ids),
        hold__at__lte=at,
        before=Disposition.QUARANTINED,
    )
    return set(rows.values_list("lot_id", flat=True))


def end_hold(hold: Hold, stamp: Stamp) -> list[Lot]:
    """Release a hold; its lots go back to what they were unless another hold still has them.

    Returns:
        The lots that are free again.

    Raises:
        HoldEndedError: it was released before.
        TooEarlyError: the time given is before the hold.
    """
    held, lots = _lock_held(hold)
    if HoldRelease.objects.filter(hold=hold).exists():
        raise HoldEndedError("This hold was released before.", hold=hold.code)
    if stamp.at < hold.at:
        raise TooEarlyError(
            "The hold was placed after the time given. Give a later time.",
            hold=hold.code,
            at=stamp.at.isoformat(),
            not_before=hold.at.isoformat(),
        )
    HoldRelease.objects.create(
        hold=hold, at=stamp.at, recorded_at=stamp.now, by=stamp.by, reason=stamp.reason
    )
    still = {lot for lot, _ in _open_holds(lots)}
    freed = [
        (lots[row.lot_id], Disposition(row.before))
        for row in held
        if row.lot_id not in still and lots[row.lot_id].disposition == Disposition.HELD
    ]
    _set_dispositions(freed, stamp)
    return [lot for lot, _ in freed]


def _lock_held(hold: Hold) -> tuple[list[HeldLot], dict[int, Lot]]:
    """Lock the lots of a hold, and look again until no new one appears.

    What is split off or made of a held lot meanwhile joins its hold.
    """
    lots: dict[int, Lot] = {}
    while True:
        held = list(HeldLot.objects.filter(hold=hold).order_by("lot_id"))
        new = {row.lot_id for row in held} - lots.keys()
        if not new:
            return held, lots
        locked = Lot.objects.select_for_update().filter(Among("pk", new)).order_by("pk")
        lots |= {lot.pk: lot for lot in locked}


def set_disposition(
    lot: Lot,
    after: Disposition,
    stamp: Stamp,
    *,
    allowed_from: Sequence[Disposition],
    posting: Posting | None = None,
) -> None:
    """Change a locked lot's disposition; a posting may be why.

    Raises:
        WrongDispositionError: it is not in one of the states that lead there, or it would be
            released past a hold.
        TooEarlyError: it changed after the time given.
    """
    if lot.disposition not in allowed_from:
        words = f"The lot is {lot.disposition} and cannot become {after} from there."
        raise WrongDispositionError(
            f"The lot is {after} already." if lot.disposition == after else words,
            lot=lot.code,
            disposition=lot.disposition,
            possible_from=[str(state) for state in allowed_from],
        )
    is_rejected = lot.disposition == Disposition.REJECTED
    if is_rejected and after != Disposition.REJECTED and _open_holds([lot.pk]):
        raise WrongDispositionError(
            "Holds keep this lot. Release them by their codes.",
            lot=lot.code,
            disposition=lot.disposition,
        )
    later = _last_changed([lot] if lot.touched_at > stamp.at else [], stamp.at)
    if later:
        raise TooEarlyError(
            "The lot's state changed after the time given. Give a later time.",
            lot=lot.code,
            at=stamp.at.isoformat(),
            not_before=later[lot.pk].isoformat(),
        )
    _set_dispositions([(lot, after)], stamp, posting)


def _set_dispositions(
    changes: Sequence[tuple[Lot, Disposition]], stamp: Stamp, posting: Posting | None = None
) -> None:
    """Note the changes as events and bring the caches along.

    Three statements for any number of lots, four when one changed after the time given: a hold
    stops it all the same, dated like that change, so that what a lot was at any time can be read
    off its events.
    """
    changes = [(lot, after) for lot, after in changes if lot.disposition != after]
    dated = _last_changed([lot for lot, _ in changes if lot.touched_at > stamp.at], stamp.at)
    LotEvent.objects.bulk_create(
        [
            LotEvent(
                lot=lot,
                kind=EventKind.DISPOSITION,
                at=dated.get(lot.pk, stamp.at),
                recorded_at=stamp.now,
                by=stamp.by,
                before=lot.disposition,
                after=after,
                reason=stamp.reason,
                posting=posting,
            )
            for lot, after in changes
        ]
    )
    for lot, after in changes:
        lot.disposition = after
        lot.touched_at = max(lot.touched_at, stamp.at)
    Lot.objects.bulk_update([lot for lot, _ in changes], ["disposition", "touched_at"])


def _last_changed(lots: Sequence[Lot], after: datetime) -> dict[int, datetime]:
    """When the disposition of each lot last changed, if after a time; by id."""
    if not lots:
        return {}
    changed = LotEvent.objects.filter(lot__in=lots, kind=EventKind.DISPOSITION, at__gt=after)
    return dict(changed.values_list("lot_id").annotate(last=Max("at")).order_by())


def born_disposition(sources: Iterable[Lot]) -> Disposition:
    """What a lot made of these is born as: held if one of them is under a hold now, else released.

    One statement when one was rejected, which may hide a hold; else none.
    """
    sources = list(sources)
    rejected = [lot.pk for lot in sources if lot.disposition == Disposition.REJECTED]
    is_held = any(lot.disposition == Disposition.HELD for lot in sources)
    return Disposition.HELD if is_held or _open_holds(rejected) else Disposition.RELEASED


def inherit_holds(sources: Sequence[Lot], made: Sequence[Lot], stamp: Stamp) -> None:
    """Put lots made of held lots under the same holds. No statement when no source is stopped.

    A part of a held lot goes back to what its parent was; a thing made of held lots goes back to
    released. One made before the hold was free until then, which an event says.
    """
    stopped = [
        lot.pk for lot in sources if lot.disposition in {Disposition.HELD, Disposition.REJECTED}
    ]
    if not stopped or not made:
        return
    rows = HeldLot.objects.filter(lot__in=stopped, hold__release__isnull=True)
    by_hold = {row.hold_id: row for row in rows.select_related("hold").order_by("hold_id")}
    HeldLot.objects.bulk_create(
        [
            HeldLot(
                hold_id=hold_id,
                lot=lot,
                before=row.before if lot.parent_id in stopped else Disposition.RELEASED,
            )
            for hold_id, row in by_hold.items()
            for lot in made
        ]
    )
    _note_held_since([lot for lot in made if lot.parent_id not in stopped], by_hold.values(), stamp)


def _note_held_since(made: Sequence[Lot], rows: Iterable[HeldLot], stamp: Stamp) -> None:
    """Say of lots born held for a later hold that they were free until it; none for an earlier."""
    first = min((row.hold for row in rows), key=lambda hold: hold.at, default=None)
    if first is None or first.at <= stamp.at or not made:
        return
    LotEvent.objects.bulk_create(
        [
            LotEvent(
                lot=lot,
                kind=EventKind.DISPOSITION,
                at=first.at,
                recorded_at=stamp.now,
                by=stamp.by,
                before=Disposition.RELEASED,
                after=Disposition.HELD,
                reason=first.reason,
            )
            for lot in made
        ]
    )
    Lot.objects.filter(pk__in=[lot.pk for lot in made]).update(touched_at=first.at)
