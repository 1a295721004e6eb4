"""What an entry would take now, and whether a lot that was scanned fits: nothing is written."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from batches.bills.selectors.bills import mixed_at
from batches.bills.selectors.sheets import BillSheet, SheetLine, sheet
from batches.runs.errors import LotNotInBillError, LotNotOursError, ScannedNotTakenError
from batches.runs.models import Batch, Entry
from batches.runs.selectors.batches import STANDING
from batches.runs.steps.drafts import LotUse
from batches.runs.steps.taking import Shelf, family_of, fill_by_bill, needs_of
from inventory.catalog.models import Place
from inventory.stock.models import Lot
from inventory.stock.selectors.amounts import AmountRow, amount_of, in_words
from inventory.stock.selectors.lots import usable_lots_asked, usable_until
from inventory.stock.steps.lots import refuse_unusable
from shopfloor.errors import NotFoundError


class ProposedLot(NamedTuple):
    """A lot to take, with how much of it, where it is, and until when it may be used."""

    lot: str
    item: str
    amount: AmountRow
    on_hand: AmountRow
    place: str
    usable_until: datetime | None
    is_scanned: bool


class ProposedLine(NamedTuple):
    """A line of the bill: what it needs, the lots to take in order, what no lot covers.

    Attributes:
        mixed_at: The stage that mixes what is missing, if it is a mixture.
    """

    item: str
    item_name: str
    need: AmountRow
    lots: list[ProposedLot]
    missing: AmountRow | None
    mixed_at: str | None


class Proposal(NamedTuple):
    """What an entry of so much would take.

    Attributes:
        pieces: Good and scrapped together; base units of a mixture.
        lines: Those of the bill that need something; none without a bill.
        not_taken: Lots that were scanned and that it takes nothing of.
    """

    batch: str
    has_bill: bool
    pieces: int
    lines: list[ProposedLine]
    not_taken: list[str]


class FittingLot(NamedTuple):
    """A lot that may be used in a batch now.

    Attributes:
        goes_before: The usable lot of its item that ends sooner and should go first, if any.
        says: The same in a sentence.
    """

    lot: str
    item: str
    item_name: str
    on_hand: AmountRow
    place: str
    usable_until: datetime | None
    goes_before: str | None
    says: str


def proposal(batch_code: str, *, pieces: int, lots: Sequence[str], at: datetime) -> Proposal:
    """What an entry of so many pieces, good and scrapped, would take. At most six statements.

    Args:
        batch_code: The batch.
        pieces: More than 0; base units of a mixture.
        lots: Lots scanned, in that order.
        at: When.

    Raises:
        NotFoundError: no such batch or lot.
        NamedTwiceError, LotNotInBillError, LotNotOursError: of the lots.
    """
    batch = _batch(batch_code)
    if batch.revision_id is None:
        return Proposal(batch.code, has_bill=False, pieces=pieces, lines=[], not_taken=[])
    bill = sheet(batch.revision_id)
    is_first = not Entry.objects.filter(STANDING, batch=batch).exists()
    shelf, short = fill_by_bill(
        bill, pieces=pieces, first_entry=is_first, uses=[LotUse(code) for code in lots], at=at
    )
    missing = {line.item.id: qty for line, qty in short}
    needs = needs_of(bill, pieces=pieces, first_entry=is_first)
    taken = _by_line(shelf, bill)
    mixing = mixed_at(missing)
    return Proposal(
        batch.code,
        has_bill=True,
        pieces=pieces,
        lines=[
            ProposedLine(
                item=line.item.code,
                item_name=line.item.name,
                need=amount_of(line.item, needs[line.item.id]),
                lots=taken[line.item.id],
                missing=amount_of(line.item, missing[line.item.id])
                if line.item.id in missing
                else None,
                mixed_at=mixing.get(line.item.id),
            )
            for line in bill.taken
            if needs[line.item.id] or taken[line.item.id]
        ],
        not_taken=[shelf.lots[pk].code for pk in shelf.scanned if pk not in shelf.taken],
    )


def fitting_lot(batch_code: str, *, lot_code: str, at: datetime) -> FittingLot:
    """A lot that was scanned for a batch, if it may be used there. At most eight statements.

    Raises:
        NotFoundError: no such batch or lot.
        LotNotInBillError, LotNotOursError, ScannedNotTakenError: it is not for this batch.
        LotHeldError, LotExpiredError and the like: it may not be used now.
    """
    batch = _batch(batch_code)
    lot = Lot.objects.filter(code=lot_code).select_related("item", "place").first()
    if lot is None:
        raise NotFoundError("No lot has this code. Check it, or scan the sticker.", lot=lot_code)
    bill = None if batch.revision_id is None else sheet(batch.revision_id)
    if bill is not None:
        _refuse_stranger(lot, bill)
    if lot.owner:
        raise LotNotOursError(
            "This lot belongs to somebody else and cannot be used in a batch.",
            lots=[{"lot": lot.code, "owner": lot.owner}],
        )
    if lot.on_hand_base <= 0:
        raise ScannedNotTakenError(
            "By the books this lot is empty. Count it, or take another.",
            lots=[{"lot": lot.code, "on_hand_base": 0}],
        )
    refuse_unusable([lot], at, held_allowed=bill is None)
    first = next(iter(usable_lots_asked(item_ids=[lot.item_id], at=at)), lot)
    return _fits(lot, first)


def _fits(lot: Lot, first: Lot) -> FittingLot:
    on_hand = amount_of(lot.item, lot.on_hand_base)
    much = on_hand.amount if on_hand.unit == "each" else in_words(on_hand)
    says = f"{much} of {lot.item.code}, at {lot.place.code}."
    is_first = first.pk == lot.pk or usable_until(first) == usable_until(lot)
    if not is_first:
        says += f" {first.code} should go first: it ends sooner."
    return FittingLot(
        lot=lot.code,
        item=lot.item.code,
        item_name=lot.item.name,
        on_hand=on_hand,
        place=lot.place.code,
        usable_until=usable_until(lot),
        goes_before=None if is_first else first.code,
        says=says,
    )


def _batch(code: str) -> Batch:
    batch = Batch.objects.filter(code=code).first()
    if batch is None:
        raise NotFoundError("No batch has this code. Check it, or scan the traveler.", batch=code)
    return batch


def _refuse_stranger(lot: Lot, bill: BillSheet) -> None:
    asked = {other: line.item.code for line in bill.taken for other in family_of(line)}
    if lot.item_id not in asked:
        raise LotNotInBillError(
            f"The bill does not ask for {lot.item.code}. Check what was scanned.",
            lots=[{"lot": lot.code, "item": lot.item.code}],
            bill_asks_for=sorted(set(asked.values())),
        )


def _by_line(shelf: Shelf, bill: BillSheet) -> dict[int, list[ProposedLot]]:
    """The lots taken, by the first line that asks for their item. One statement."""
    place_ids = {shelf.lots[pk].place_id for pk in shelf.taken}
    places = dict(Place.objects.filter(pk__in=place_ids).values_list("pk", "code"))
    line_of: dict[int, SheetLine] = {}
    for line in bill.taken:
        for item_id in family_of(line):
            line_of.setdefault(item_id, line)
    found: dict[int, list[ProposedLot]] = {line.item.id: [] for line in bill.taken}
    for pk, qty_base in shelf.taken.items():
        lot = shelf.lots[pk]
        found[line_of[lot.item_id].item.id].append(
            ProposedLot(
                lot=lot.code,
                item=lot.item.code,
                amount=amount_of(lot.item, qty_base),
                on_hand=amount_of(lot.item, lot.on_hand_base),
                place=places[lot.place_id],
                usable_until=usable_until(lot),
                is_scanned=pk in shelf.scanned,
            )
        )
    return found
