"""What an accountant does: adjust a lot, bring its value along, close the books."""

from __future__ import annotations

from datetime import date

from inventory.stock.errors import NothingToDoError
from inventory.stock.models import BooksClosing, Lot, OutsideKind, PostingKind
from inventory.stock.rules import count_difference_micro
from inventory.stock.selectors.counting import inflows
from inventory.stock.steps.holding import rejoin_holds
from inventory.stock.steps.lots import lock_lots
from inventory.stock.steps.posting import Change, Document, Posted, post
from inventory.stock.steps.refusals import refuse_shipped_in_box
from shopfloor.days import shop_day
from shopfloor.errors import InvalidInputError
from shopfloor.money import money_text
from shopfloor.operation import operation
from shopfloor.stamp import Stamp
from shopfloor.turns import lock_tables


@operation
def adjust_lot(*, lot_code: str, qty_base: int, stamp: Stamp) -> Posted:
    """Correct a lot by an amount that no entry can be reversed for; it needs a reason.

    Args:
        lot_code: The lot.
        qty_base: Base units, not 0; negative takes out.
        stamp: Who, when, why.

    Raises:
        NotFoundError: no such lot.
        LotShortError: it would fall below zero.
        NothingToDoError, InvalidInputError: nothing to adjust, or no reason.
        LotShippedError: it left with its box.
        BooksClosedError, LotNotThereYetError, LotCountedSinceError, BalanceBelowZeroError: it
            cannot have been then.
    """
    stamp.refuse_no_reason()
    if qty_base == 0:
        raise NothingToDoError("An adjustment of nothing changes nothing.", lot=lot_code)
    lot = lock_lots([lot_code])[lot_code]
    was_empty = lot.on_hand_base == 0
    if was_empty:
        refuse_shipped_in_box([lot])
    posted = post(
        kind=PostingKind.ADJUSTED,
        stamp=stamp,
        changes=[Change(lot, qty_base, _value(lot, qty_base))],
        outside_kind=OutsideKind.ADJUSTMENT,
    )
    if was_empty:
        rejoin_holds([lot], stamp)
    return posted


def _value(lot: Lot, qty_base: int) -> int:
    qty_in, value_in = inflows([lot]).get(lot.pk, (0, 0)) if lot.on_hand_base == 0 else (0, 0)
    return count_difference_micro(
        found_base=max(lot.on_hand_base + qty_base, 0),
        on_hand_base=lot.on_hand_base,
        value_micro=lot.value_micro,
        inflow_base=qty_in,
        inflow_micro=value_in,
    )


@operation
def revalue_lot(*, lot_code: str, value_micro: int, stamp: Stamp, document: str = "") -> Posted:
    """Add late freight or an invoice difference to what is left of a lot; its amount stays.

    What was used before keeps its cost: no posting re-costs an earlier one.

    Args:
        lot_code: The lot.
        value_micro: Millionths of the currency, not 0; negative for a credit.
        stamp: Who, when, why.
        document: The invoice, if any.

    Raises:
        NotFoundError: no such lot.
        NothingToDoError: nothing to add, or no amount left to carry it.
        InvalidInputError: no reason, a credit above the value, or a lot that is not ours.
        BooksClosedError, LotNotThereYetError, LotCountedSinceError: it cannot have been then.
    """
    stamp.refuse_no_reason()
    lot = lock_lots([lot_code])[lot_code]
    if value_micro == 0 or lot.on_hand_base == 0:
        raise NothingToDoError(
            "There is nothing to add, or nothing left of the lot to carry it.", lot=lot.code
        )
    if lot.owner:
        raise InvalidInputError(
            "A lot of somebody else has no value here.", lot=lot.code, owner=lot.owner
        )
    if lot.value_micro + value_micro < 0:
        raise InvalidInputError(
            "The credit is larger than what the lot is worth now.",
            lot=lot.code,
            value=money_text(lot.value_micro),
        )
    return post(
        kind=PostingKind.ADJUSTED,
        stamp=stamp,
        changes=[Change(lot, 0, value_micro)],
        outside_kind=OutsideKind.PURCHASE,
        document=Document("invoice", document) if document else Document(),
    )


@operation
def close_books(*, through: date, stamp: Stamp) -> BooksClosing:
    """Close the books through a day of the past; nothing is posted into it any more.

    Raises:
        InvalidInputError: the day is not over, or the books are closed to it already.
    """
    _wait_for_postings()
    if through >= shop_day(stamp.now):
        raise InvalidInputError(
            "Only days that are over can be closed.", through=through.isoformat()
        )
    last = BooksClosing.objects.order_by("-through").first()
    if last is not None and through <= last.through:
        raise InvalidInputError(
            "The books are closed further already.", closed_through=last.through.isoformat()
        )
    return BooksClosing.objects.create(
        through=through, recorded_at=stamp.now, by=stamp.by, reason=stamp.reason
    )


def _wait_for_postings() -> None:
    """Let every posting that has looked at the books end, and every later one see this closing.

    One that takes from lots looks while it locks them; one that only makes some locks the last
    closing.
    """
    lock_tables((BooksClosing, Lot), "EXCLUSIVE")
