"""Undoing a posting wholly: a second posting that is its mirror."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Max, Q

from inventory.stock.errors import NotReversibleError, TooEarlyError
from inventory.stock.models import (
    CountLine,
    EventKind,
    Lot,
    LotEvent,
    Movement,
    OutsideKind,
    Posting,
    PostingKind,
)
from inventory.stock.selectors.counting import STANDING
from inventory.stock.steps.holding import rejoin_holds
from inventory.stock.steps.lots import lock_lots_by_id
from inventory.stock.steps.posting import Change, Document, Posted, post
from shopfloor.stamp import Stamp


def reverse_posting(posting: Posting, stamp: Stamp) -> Posted:
    """Undo a posting: every movement is answered by its opposite, amounts and values alike.

    What it made must be untouched, at the place and in the amount it was made; what it took goes
    back into its lots.
    The reversal is dated when it is made, not when the posting was, so a closed period stays as it
    was.

    Raises:
        NotReversibleError: it is undone already, or what it made was used, moved or counted since:
            the facts name the lots.
        TooEarlyError: the time given is before the posting.
    """
    movements = list(Movement.objects.filter(posting=posting).order_by("lot_id"))
    lots = lock_lots_by_id(m.lot_id for m in movements)
    _refuse_undone(posting)
    if stamp.at < posting.at:
        raise TooEarlyError(
            "It happened after the time given. Give a later time to undo it.",
            posting=posting.code,
            at=stamp.at.isoformat(),
            not_before=posting.at.isoformat(),
        )
    outputs = [lots[m.lot_id] for m in movements if m.qty_base > 0]
    _refuse_touched(posting, outputs)
    _refuse_moved(posting, outputs)
    _refuse_counted(posting, lots.values())
    refilled = [lots[m.lot_id] for m in movements if m.qty_base < 0]
    refilled = [lot for lot in refilled if lot.on_hand_base == 0]
    posted = post(
        kind=PostingKind.REVERSED,
        stamp=stamp,
        changes=[Change(lots[m.lot_id], -m.qty_base, -m.value_micro) for m in movements],
        outside_kind=OutsideKind(posting.outside_kind),
        document=Document(posting.document_kind, posting.document_code),
        reverses=posting,
    )
    rejoin_holds(refilled, stamp)
    return posted


def _refuse_undone(posting: Posting) -> None:
    if posting.kind == PostingKind.REVERSED:
        raise NotReversibleError(
            "A reversal is not reversed. Record it again instead.", posting=posting.code
        )
    undone = Posting.objects.filter(reverses=posting).first()
    if undone is not None:
        raise NotReversibleError(
            "This was reversed before.", posting=posting.code, reversed_by=undone.code
        )


def _refuse_touched(posting: Posting, outputs: list[Lot]) -> None:
    """Refuse when any later posting moved what this one made: first what used it, newest first."""
    touching = (
        Movement.objects.filter(lot__in=outputs, posting_id__gt=posting.pk)
        # By kind and not by what it reverses: SQLite would begin with all that reverse nothing.
        .exclude(posting__kind=PostingKind.REVERSED)
        .filter(posting__reversed_by__isnull=True)
        .select_related("posting", "lot")
        .order_by("-posting_id")[:20]
    )
    in_the_way = [
        {
            "lot": m.lot.code,
            "posting": m.posting.code,
            "kind": m.posting.kind,
            "document": m.posting.document_code,
            "at": m.posting.at.isoformat(),
        }
        for m in touching
    ]
    if in_the_way:
        raise NotReversibleError(
            "What this made was used since. Reverse the later ones first, newest first,"
            " or adjust the lots with a reason.",
            stands_in_the_way=in_the_way,
        )


def _refuse_counted(posting: Posting, lots: Iterable[Lot]) -> None:
    """Refuse when another count found what was there since, this posting and all.

    At the very time of the posting it was counted since if that was written down later.
    """
    since = Q(count__at__gt=posting.at)
    since |= Q(count__at=posting.at, count__recorded_at__gte=posting.recorded_at)
    counted = (
        CountLine.objects.filter(STANDING, since, lot__in=list(lots))
        .exclude(count__posting=posting)
        .values("lot__code")
        .annotate(last=Max("count__at"))
        .order_by("lot__code")
    )
    rows = [{"lot": row["lot__code"], "counted_at": row["last"].isoformat()} for row in counted]
    if rows:
        raise NotReversibleError(
            "A lot was counted after this was recorded, so the count already found what was there."
            " Adjust the lot with a reason instead.",
            stands_in_the_way=rows,
        )


def _refuse_moved(posting: Posting, outputs: list[Lot]) -> None:
    """Refuse when a whole lot stands elsewhere than it was put: on another shelf, or in a box."""
    first: dict[int, LotEvent] = {}
    moves = LotEvent.objects.filter(lot__in=outputs, kind=EventKind.PLACE).select_related(
        "lot__place"
    )
    if posting.kind in {PostingKind.RETURNED, PostingKind.COUNTED}:  # into lots that stood before
        moves = moves.filter(recorded_at__gt=posting.recorded_at)
    for event in moves.order_by("-id"):
        first[event.lot_id] = event
    moved = [
        {"lot": event.lot.code, "made_at": event.before, "now_at": event.lot.place.code}
        for event in first.values()
        if event.before != event.lot.place.code
    ]
    if moved:
        raise NotReversibleError(
            "What this made was moved or boxed since. Bring it back first, or adjust the lots with"
            " a reason.",
            stands_in_the_way=moved,
        )
