"""Locking lots, judging whether they may be used, splitting them, noting what happened."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.db.models import QuerySet, Subquery

from inventory.catalog.models import Place
from inventory.stock.errors import (
    LotExpiredError,
    LotHeldError,
    LotOverOpenedError,
    LotQuarantinedError,
    LotRejectedError,
    LotShortError,
)
from inventory.stock.models import (
    LOT_CODE_LENGTH,
    BooksClosing,
    Disposition,
    EventKind,
    Lot,
    LotEvent,
    Posting,
    PostingKind,
)
from inventory.stock.selectors.among import Among, AmongCodes, GivenMany
from inventory.stock.steps.holding import inherit_holds, untested_under_hold
from inventory.stock.steps.posting import Make, post, take
from inventory.stock.steps.refusals import refuse_closed_books, released_elsewhere, shortfall
from shopfloor.errors import NotFoundError
from shopfloor.prepared import Prepared
from shopfloor.stamp import Stamp


@dataclass(frozen=True, slots=True)
class LotState:
    """What decided, at some time, whether a lot might be used."""

    disposition: str
    expires_at: datetime | None
    discard_at: datetime | None


@dataclass(frozen=True, slots=True)
class Override:
    """A lead's written reason to use an expired or over-opened lot. It never lifts a hold."""

    reason: str


def lock_lots(codes: Iterable[str]) -> dict[str, Lot]:
    """Lock lots by code, in one statement and in the order of their ids.

    Locking makes two consumers take turns; without it both could pass the check of what is on hand.

    Raises:
        NotFoundError: with the codes that no lot has.
    """
    wanted = set(codes)
    lots = {lot.code: lot for lot in _locked_by_code(codes=wanted)}
    missing = sorted(wanted - lots.keys())
    if missing:
        raise NotFoundError("No lot has this code. Check it, or scan the sticker.", lots=missing)
    return lots


def lock_lots_by_id(ids: Iterable[int]) -> dict[int, Lot]:
    """Lock lots by id, in one statement and in the order of their ids."""
    return {lot.pk: lot for lot in _locked_by_id(ids=set(ids))}


def _locked() -> QuerySet[Lot]:
    # Joined only to what cannot change: a query that waited judges the row it then gets against
    # the other tables as they were, and a lot moved meanwhile falls out of a join with its place.
    last = BooksClosing.objects.order_by("-through").values("through")[:1]
    return (
        Lot.objects.select_for_update(of=("self",))
        .select_related("item")
        .annotate(books_closed_through=Subquery(last))  # spares every posting a statement
        .order_by("pk")
    )


_locked_by_code = Prepared(lambda: _locked().filter(AmongCodes("code", GivenMany("codes"))))
_locked_by_id = Prepared(lambda: _locked().filter(Among("pk", GivenMany("ids"))))


def states_at(lots: Sequence[Lot], at: datetime) -> dict[int, LotState]:
    """What each lot was at a business time, by id: its state, undone by the events since.

    No statement when nothing was recorded after `at`, else one.
    """
    states = {lot.pk: LotState(lot.disposition, lot.expires_at, lot.discard_at) for lot in lots}
    later = [lot.pk for lot in lots if lot.touched_at > at]
    if not later:
        return states
    events = LotEvent.objects.filter(lot__in=later, at__gt=at).order_by("-at", "-id")
    for event in events:  # newest first, so that the earliest has the last word
        states[event.lot_id] = _undone(states[event.lot_id], event)
    return states


def _undone(state: LotState, event: LotEvent) -> LotState:
    if event.kind == EventKind.DISPOSITION:
        return replace(state, disposition=event.before)
    if event.kind == EventKind.EXPIRY:
        return replace(
            state, expires_at=datetime.fromisoformat(event.before) if event.before else None
        )
    if event.kind == EventKind.OPENED:
        return replace(state, discard_at=None)
    return state


JUDGED = (EventKind.DISPOSITION, EventKind.EXPIRY, EventKind.OPENED)
"""What decides whether a lot may be used; `_undone` knows how to undo each."""

REFUSALS = {
    Disposition.HELD: (LotHeldError, "The lot is held. Take another; only a release ends a hold."),
    Disposition.QUARANTINED: (
        LotQuarantinedError,
        "The lot waits for its test. Release it first, or take another.",
    ),
    Disposition.REJECTED: (LotRejectedError, "The lot was rejected. Take another."),
}


def refuse_unusable(
    lots: Sequence[Lot],
    at: datetime,
    *,
    override: Override | None = None,
    held_allowed: bool = False,
) -> list[Lot]:
    """Refuse locked lots that might not be used at that time.

    Args:
        lots: Locked lots.
        at: Business time of the use.
        override: A lead's reason to use expired or over-opened lots.
        held_allowed: For rework of held lots; not of those that waited for a test when held.

    Returns:
        The lots that only the override let through; the caller notes the reason with its posting.

    Raises:
        LotHeldError, LotQuarantinedError, LotRejectedError, LotExpiredError,
            LotOverOpenedError: as named.
    """
    states = states_at(lots, at)
    usable = {Disposition.RELEASED, *([Disposition.HELD] if held_allowed else [])}
    held = [lot for lot in lots if states[lot.pk].disposition == Disposition.HELD]
    untested = untested_under_hold(held if held_allowed else (), at)
    overridden: list[Lot] = []
    for lot in lots:
        state = states[lot.pk]
        if lot.pk in untested:
            raise LotQuarantinedError(
                "The lot is held, and waits for its test besides. Release the hold and test it, or "
                "take another.",
                lot=lot.code,
                item=lot.item.code,
                elsewhere=released_elsewhere([lot]),
            )
        if state.disposition not in usable:
            error, words = REFUSALS[Disposition(state.disposition)]
            raise error(
                words, lot=lot.code, item=lot.item.code, elsewhere=released_elsewhere([lot])
            )
        if state.expires_at is not None and state.expires_at < at:
            _refuse_expired(lot, state.expires_at, override)
            overridden.append(lot)
        elif state.discard_at is not None and state.discard_at < at:
            _refuse_over_opened(lot, state.discard_at, override)
            overridden.append(lot)
    return overridden


def _refuse_expired(lot: Lot, expires_at: datetime, override: Override | None) -> None:
    if override is None:
        raise LotExpiredError(
            "The lot had expired. Take another, extend its expiry after a test, or let a lead "
            "override with a reason.",
            lot=lot.code,
            expired_at=expires_at.isoformat(),
            elsewhere=released_elsewhere([lot]),
        )


def _refuse_over_opened(lot: Lot, discard_at: datetime, override: Override | None) -> None:
    if override is None:
        raise LotOverOpenedError(
            "The container had been open too long. Take another, or let a lead override with a "
            "reason.",
            lot=lot.code,
            discard_at=discard_at.isoformat(),
            elsewhere=released_elsewhere([lot]),
        )


def note_event(
    lot: Lot,
    kind: EventKind,
    *,
    before: str,
    after: str,
    stamp: Stamp,
    posting: Posting | None = None,
) -> None:
    """Record what happened to a locked lot.

    The caller has set the cached field and this saves it.
    """
    LotEvent.objects.create(
        lot=lot,
        kind=kind,
        at=stamp.at,
        recorded_at=stamp.now,
        by=stamp.by,
        before=before,
        after=after,
        reason=stamp.reason,
        posting=posting,
    )
    lot.touched_at = max(lot.touched_at, stamp.at)
    lot.save(
        update_fields=[
            "disposition",
            "place",
            "expires_at",
            "opened_at",
            "discard_at",
            "touched_at",
            "splits",
        ]
    )


def change_place(lot: Lot, place: Place, stamp: Stamp, *, posting: Posting | None = None) -> None:
    """Put a whole locked lot somewhere else; a posting may be what brought it there."""
    refuse_closed_books(stamp, locked=lot)
    before, lot.place = lot.place, place
    note_event(
        lot, EventKind.PLACE, before=before.code, after=place.code, stamp=stamp, posting=posting
    )


def open_whole(lot: Lot, stamp: Stamp) -> None:
    """Open a locked lot that is one container; its opened life begins."""
    lot.opened_at = stamp.at
    if lot.item.opened_life_minutes is not None:
        lot.discard_at = stamp.at + timedelta(minutes=lot.item.opened_life_minutes)
    note_event(lot, EventKind.OPENED, before="", after=stamp.at.isoformat(), stamp=stamp)


def split_lot(
    lot: Lot, qty_base: int, stamp: Stamp, *, place: Place | None = None, code: str = ""
) -> Lot:
    """Take part of a locked lot as a lot of its own: `PARENT.n`, same item, its share of the value.

    Args:
        lot: The lot to take from; the part must be less than the whole.
        qty_base: Base units of the part.
        stamp: Who, when, why.
        place: Where the part goes; else it stays with its parent.
        code: The part's code, if the shop gives one.

    Raises:
        LotShortError: the lot holds no more than that; a whole lot is moved, not split.
    """
    if qty_base >= lot.on_hand_base:
        raise LotShortError(
            "A part must be less than the whole lot. Move the whole lot, or take less.",
            lots=[shortfall(lot, qty_base)],
            elsewhere=released_elsewhere([lot]),
        )
    change = take(lot, qty_base)
    lot.splits += 1
    part_code = f"{lot.code}.{lot.splits}"
    if len(part_code) > LOT_CODE_LENGTH:
        part_code = ""  # split again and again: the posting gives it a short one
    make = Make(
        item_id=lot.item_id,
        place_id=lot.place_id if place is None else place.pk,
        qty_base=qty_base,
        value_micro=-change.value_micro,
        code=code or part_code,
        parent_id=lot.pk,
        owner=lot.owner,
        grade=lot.grade,
        disposition=lot.disposition,
        supplier_id=lot.supplier_id,
        supplier_lot_code=lot.supplier_lot_code,
        expires_at=lot.expires_at,
        opened_at=lot.opened_at,
        discard_at=lot.discard_at,
    )
    kind = PostingKind.SPLIT if place is None or place == lot.place else PostingKind.MOVED
    part = post(kind=kind, stamp=stamp, changes=[change], makes=[make]).made[0]
    Lot.objects.filter(pk=lot.pk).update(splits=lot.splits)
    inherit_holds([lot], [part], stamp)
    _share_past(lot, part, stamp)
    return part


def _share_past(lot: Lot, part: Lot, stamp: Stamp) -> None:
    """What happened to a lot since a part was split off, by a time in the past, happened to both.

    So the part may be used at a time at which the lot might, and at no other. No statement when
    nothing was recorded after that time.
    """
    if lot.touched_at <= stamp.at:
        return
    events = list(LotEvent.objects.filter(lot=lot, at__gt=stamp.at, kind__in=JUDGED).order_by("id"))
    if not events:
        return
    part.touched_at = max(event.at for event in events)
    for event in events:
        event.pk, event.lot = None, part
    LotEvent.objects.bulk_create(events)
    part.save(update_fields=["touched_at"])
