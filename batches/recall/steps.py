"""Recalls: begun, noted, closed."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from django.db.models import Sum

from batches.packing.selectors.orders import customer_named
from batches.recall.errors import DestroyedTooManyError, RecallClosedError
from batches.recall.models import (
    Recall,
    RecallClosing,
    RecallFigure,
    RecallHold,
    RecallKind,
    RecallLot,
    RecallMoment,
    RecallNote,
)
from batches.recall.rules import FIGURES
from batches.recall.selectors.asked import Asked, suspect_lots
from batches.recall.selectors.scope import balances_of, scope_of
from inventory.catalog.selectors import item as item_named
from inventory.stock.errors import TooEarlyError
from inventory.stock.steps import lock_lots_by_id
from inventory.stock.steps.holding import lock_downstream, place_hold
from inventory.stock.steps.refusals import refuse_not_there_yet
from shopfloor.codes.alphabet import Prefix, decode
from shopfloor.errors import NotFoundError
from shopfloor.stamp import Stamp


@dataclass(frozen=True, slots=True)
class NoteDraft:
    """What was done or heard; with a customer and an item, how many pieces were destroyed there."""

    customer_code: str = ""
    item_code: str = ""
    destroyed_base: int = 0


def begin(kind: str, asked: Asked, stamp: Stamp) -> Recall:
    """Begin a case. A real one holds the lots it begins from and all made of them.

    Raises:
        ReasonMissingError: no reason.
        NothingAtRiskError, NotFoundError, NothingToTraceError: as of `suspect_lots`.
        LotNotThereYetError: before a lot was made.
        TraceTooLargeError: more is at risk than a walk goes through.
    """
    stamp.refuse_no_reason()
    lots = lock_lots_by_id(sorted(suspect_lots(asked)))
    refuse_not_there_yet(lots.values(), stamp)
    recall = Recall.objects.create(
        kind=kind,
        at=stamp.at,
        recorded_at=stamp.now,
        by=stamp.by,
        reason=stamp.reason,
        asked=asked.words,
    )
    RecallLot.objects.bulk_create([RecallLot(recall=recall, lot=lot) for lot in lots.values()])
    if kind == RecallKind.REAL:
        because = replace(stamp, reason=f"Recall {recall.code}: {stamp.reason}"[:300])
        for lot in lots.values():
            RecallHold.objects.create(recall=recall, hold=place_hold(lot, because))
    _take_down(recall, RecallMoment.BEGUN, lots)
    return recall


def note(code: str, draft: NoteDraft, stamp: Stamp) -> Recall:
    """Write down what was done or heard.

    Raises:
        NotFoundError: no such recall, customer or item.
        ReasonMissingError: no words.
        RecallClosedError, TooEarlyError: after its end, before its beginning.
        DestroyedTooManyError: more than the customer has.
    """
    stamp.refuse_no_reason()
    recall = _lock_open(code, stamp)
    customer = customer_named(draft.customer_code) if draft.customer_code else None
    item = item_named(draft.item_code) if draft.item_code else None
    if draft.destroyed_base:
        _refuse_more_than_there(recall, draft)
    RecallNote.objects.create(
        recall=recall,
        at=stamp.at,
        recorded_at=stamp.now,
        by=stamp.by,
        reason=stamp.reason,
        customer=customer,
        item=item,
        destroyed_base=draft.destroyed_base,
    )
    return recall


def close(code: str, stamp: Stamp) -> Recall:
    """Close a case and take down where every piece is then. Its holds stay.

    Raises:
        NotFoundError: no such recall.
        ReasonMissingError: no conclusion.
        RecallClosedError, TooEarlyError: closed before; before its beginning.
        TraceTooLargeError: more is at risk than a walk goes through.
    """
    stamp.refuse_no_reason()
    recall = _lock_open(code, stamp)
    RecallClosing.objects.create(
        recall=recall, at=stamp.at, recorded_at=stamp.now, by=stamp.by, reason=stamp.reason
    )
    lots = lock_lots_by_id(recall.lots.values_list("lot_id", flat=True))
    _take_down(recall, RecallMoment.CLOSED, lots)
    return recall


def _lock_open(code: str, stamp: Stamp) -> Recall:
    """An open case, locked: notes and its end take turns.

    Raises:
        NotFoundError, RecallClosedError, TooEarlyError: as of the events.
    """
    locked = Recall.objects.select_for_update(no_key=True, of=("self",))
    recall = locked.filter(pk=decode(code, Prefix.RECALL)[1]).first()
    if recall is None:
        raise NotFoundError("No recall has this code. Look at the list.", recall=code)
    if RecallClosing.objects.filter(recall=recall).exists():
        raise RecallClosedError("This recall is closed. Begin another.", recall=recall.code)
    if stamp.at < recall.at:
        raise TooEarlyError(
            "The recall was begun after the time given. Give a later time.",
            recall=recall.code,
            at=stamp.at.isoformat(),
            not_before=recall.at.isoformat(),
        )
    return recall


def _refuse_more_than_there(recall: Recall, draft: NoteDraft) -> None:
    """A customer can destroy no more of an item at risk than left to them and did not come back."""
    scope = scope_of(recall.lots.values_list("lot_id", flat=True))
    there = sum(
        sent.shipped_base - sent.returned_base
        for sent in scope.sent
        if (sent.customer, sent.item) == (draft.customer_code, draft.item_code)
    )
    destroyed = (
        recall.notes.filter(
            customer__code=draft.customer_code, item__code=draft.item_code
        ).aggregate(n=Sum("destroyed_base"))["n"]
        or 0
    )
    if draft.destroyed_base > there - destroyed:
        raise DestroyedTooManyError(
            f"Of this item {there - destroyed} pieces at risk are with this customer. Correct the "
            "number, or enter what came back as a return.",
            destroyed=draft.destroyed_base,
            outstanding=there - destroyed,
        )


def _take_down(recall: Recall, moment: RecallMoment, lot_ids: Collection[int]) -> None:
    """Keep where every piece is. What is at risk is locked: else it would move while it is read."""
    balances = balances_of(lock_downstream(lot_ids))
    RecallFigure.objects.bulk_create(
        [
            RecallFigure(
                recall=recall,
                moment=moment,
                item_id=item_id,
                **{f"{name}_base": getattr(balance, name) for name in FIGURES},
            )
            for item_id, balance in sorted(balances.items())
        ]
    )
