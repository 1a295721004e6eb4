"""Writes of what goes back to a supplier, inside an open transaction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from inventory.catalog.models import Supplier
from inventory.catalog.selectors import positive_base
from inventory.purchasing.errors import NotBoughtError, StandsTwiceError, WrongSupplierError
from inventory.stock.models import Lot, OutsideKind, Posting, PostingKind
from inventory.stock.steps import Document, Posted, lock_lots, post, reverse_posting, take
from shopfloor.codes.alphabet import Prefix, decode
from shopfloor.errors import InvalidInputError, NotFoundError
from shopfloor.fields import Amount
from shopfloor.stamp import Stamp

DOCUMENT_KIND: Final = "supplier_return"


@dataclass(frozen=True, slots=True)
class ReturnDraft:
    """How much of which lot goes back."""

    lot_code: str
    amount: Amount


def send_back(*, lots: Sequence[ReturnDraft], stamp: Stamp) -> Posted:
    """Return lots to the supplier they came from; the stamp says why. Seven statements.

    Whatever the lots are: held, rejected, quarantined and expired ones go back too. They leave at
    what they are worth here; what the supplier credits is for the accountant.

    Raises:
        NotFoundError: no such lot.
        StandsTwiceError: a lot stands twice.
        NotBoughtError: a lot did not come from a supplier.
        WrongSupplierError: the lots came from several suppliers.
        AmountNotPositiveError, UnitMismatchError, FractionOfPieceError: an amount.
        ReasonMissingError: no reason.
        LotShortError, BooksClosedError, LotNotThereYetError, LotCountedSinceError,
            BalanceBelowZeroError: it cannot have happened so.
    """
    stamp.refuse_no_reason()
    codes = [draft.lot_code for draft in lots]
    twice = sorted({code for code in codes if codes.count(code) > 1})
    if not lots:
        raise InvalidInputError("Name the lots that go back.")
    if twice:
        raise StandsTwiceError("A lot stands twice. Add the two up.", lots=twice)
    locked = lock_lots(codes)
    supplier_code = _one_supplier([locked[code] for code in codes])
    changes = [
        take(locked[draft.lot_code], positive_base(locked[draft.lot_code].item, draft.amount))
        for draft in lots
    ]
    return post(
        kind=PostingKind.RETURNED,
        stamp=stamp,
        changes=changes,
        outside_kind=OutsideKind.PURCHASE,
        document=Document(DOCUMENT_KIND, supplier_code),
    )


def undo_return(*, posting_code: str, stamp: Stamp) -> Posted:
    """Reverse a return that was written down wrongly; the stamp says why.

    Raises:
        NotFoundError: no such return.
        NotReversibleError: it was reversed before, or a lot of it was counted since.
        ReasonMissingError: no reason.
    """
    stamp.refuse_no_reason()
    number = decode(posting_code, Prefix.POSTING)[1]
    posting = Posting.objects.filter(pk=number, document_kind=DOCUMENT_KIND).first()
    if posting is None:
        raise NotFoundError("No return to a supplier has this code.", posting=posting_code)
    return reverse_posting(posting, stamp)


def _one_supplier(lots: Sequence[Lot]) -> str:
    made = sorted(lot.code for lot in lots if lot.supplier_id is None)
    if made:
        raise NotBoughtError(
            "These lots did not come from a supplier, so they cannot go back to one.", lots=made
        )
    sources = Supplier.objects.filter(pk__in={lot.supplier_id for lot in lots})
    codes = list(sources.order_by("code").values_list("code", flat=True))
    if len(codes) > 1:
        raise WrongSupplierError(
            "These lots came from several suppliers. Send each its own back.", suppliers=codes
        )
    return codes[0]
