"""Recording an entry: what it takes, scraps and makes, as one posting; and undoing it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from django.db.models import TextField

from batches.bills.rules import line_need_base
from batches.bills.selectors.sheets import BillSheet, SheetLine, sheet
from batches.runs.errors import (
    NamedTwiceError,
    NewerEntryError,
    NotAByProductError,
    NothingRecordedError,
    OutputHasNoPlaceError,
    OverrideNotAllowedError,
    WrongBatchStateError,
)
from batches.runs.models import Batch, BatchState, Entry, EntryFactor, EntryTally
from batches.runs.rules import entry_values
from batches.runs.steps.drafts import EntryDraft
from batches.runs.steps.naming import Names, look_up_names
from batches.runs.steps.recorded import Recorded
from batches.runs.steps.taking import is_all_weighed, takes_by_bill, takes_without_bill
from inventory.stock.models import EventKind, Lot, LotEvent, OutsideKind, PostingKind
from inventory.stock.selectors.amounts import Shown
from inventory.stock.steps import (
    Change,
    Document,
    Make,
    Posted,
    born_disposition,
    inherit_holds,
    lock_lots,
    lock_lots_by_id,
    post,
    refuse_unusable,
    reverse_posting,
    take,
)
from inventory.stock.steps.lots import Override
from shopfloor.codes.alphabet import Prefix, decode
from shopfloor.errors import NotFoundError
from shopfloor.inserted import insert
from shopfloor.prepared import Given, Prepared
from shopfloor.roles import LEADS
from shopfloor.stamp import Stamp

_NEXT: Final[dict[str, str]] = {
    BatchState.PLANNED: "Start it first.",
    BatchState.IDLE: "Start it first.",
    BatchState.HELD: "Resume it first.",
    BatchState.COMPLETE: "Plan another batch.",
    BatchState.ABORTED: "Plan another batch.",
}


@dataclass(frozen=True, slots=True)
class _Output:
    """Something an entry makes: grades of the item first, then by-products."""

    item_id: int
    place_id: int
    qty_base: int
    grade: str
    expires_at: datetime | None = None


def lock_batch(code: str) -> Batch:
    """Lock a batch, before any lot: what an entry needs depends on whether it is the first.

    Raises:
        NotFoundError: no such batch.
    """
    locked = _locked_batch(code=code)
    if not locked:
        raise NotFoundError("No batch has this code. Check it, or scan the traveler.", batch=code)
    return locked[0]


_locked_batch = Prepared(
    lambda: (
        Batch.objects.select_for_update(of=("self",))
        .select_related("item", "stage", "revision")
        .filter(code=Given("code", TextField()))
    )
)


def record_entry(draft: EntryDraft, stamp: Stamp) -> Recorded:
    """Take, scrap and make in one posting, and note the bench's facts beside it.

    Needs an open transaction. A constant number of statements whatever the number of lots.

    Raises:
        NotFoundError, WrongBatchStateError, NothingRecordedError, NamedTwiceError: what was
            recorded cannot be meant.
        MaterialShortError, LotNotInBillError, ShareExceededError, LotNotOursError,
            AmountsMissingError: of `taking`.
        LotHeldError, LotExpiredError and the other refusals of the ledger: the lots may not be
            used so.
        OverrideNotAllowedError: somebody else than a lead overrides an expiry.
        OutputHasNoPlaceError, NotAByProductError, ScrapReasonElsewhereError: as named.
    """
    override = _override(draft, stamp)
    batch = lock_batch(draft.batch_code)
    _refuse_draft(draft, batch)
    bill = None if batch.revision_id is None else sheet(batch.revision_id)
    names = look_up_names(draft, batch)
    takes, lots = _locked_takes(draft, bill, first_entry=names.is_first_entry, at=stamp.at)
    taken = [take(lot, takes[lot.pk]) for lot in lots.values()]
    overridden = refuse_unusable(
        list(lots.values()), stamp.at, override=override, held_allowed=bill is None
    )
    outputs, by_products = _outputs(
        draft, batch, bill, first_entry=names.is_first_entry, at=stamp.at
    )
    if not (taken or outputs or by_products):
        raise NothingRecordedError(
            "The bill takes nothing for these pieces and nothing was made, so there is nothing to"
            " post. Name what was taken.",
            batch=batch.code,
        )
    posted = _post(batch, taken, outputs, by_products, stamp)
    inherit_holds(list(lots.values()), posted.made, stamp)
    _note_override(overridden, posted, stamp, draft.override_reason)
    entry = _note_entry(draft, batch, names, posted, stamp)
    made_items: dict[int, Shown] = {line.item.id: line.item for _, line in by_products}
    made_items[batch.item_id] = batch.item
    return Recorded(entry=entry, batch=batch, posted=posted, taken=taken, made_items=made_items)


def reverse_entry(entry_code: str, stamp: Stamp) -> tuple[Entry, Posted]:
    """Undo one entry wholly: its material goes back, what it made goes away.

    Raises:
        NotFoundError: no such entry.
        NewerEntryError: the batch has a newer one that stands.
        NotReversibleError: what it made was used, or a lot was counted since: the facts name it.
    """
    number = decode(entry_code, Prefix.ENTRY)[1]
    entry = Entry.objects.filter(pk=number).select_related("batch", "posting").first()
    if entry is None:
        raise NotFoundError("No entry has this code.", entry=entry_code)
    lock_batch(entry.batch.code)
    newer = (
        Entry.objects.filter(
            batch_id=entry.batch_id, pk__gt=entry.pk, posting__reversed_by__isnull=True
        )
        .order_by("-pk")
        .first()
    )
    if newer is not None:
        raise NewerEntryError(
            "A newer entry of this batch stands. Reverse that one first.",
            entry=entry.code,
            newer=newer.code,
        )
    return entry, reverse_posting(entry.posting, stamp)


def _override(draft: EntryDraft, stamp: Stamp) -> Override | None:
    if not draft.override_reason.strip():
        return None
    if stamp.by.role not in LEADS:
        raise OverrideNotAllowedError(
            "Only a lead or the owner may use an expired lot. Ask one to record this entry."
        )
    return Override(draft.override_reason)


def _refuse_draft(draft: EntryDraft, batch: Batch) -> None:
    if batch.state != BatchState.RUNNING:
        raise WrongBatchStateError(
            f"The batch is {batch.state}. Only a running batch takes entries. {_NEXT[batch.state]}",
            batch=batch.code,
            state=batch.state,
        )
    tallied = [good.qty_base for good in draft.good] + [bad.qty_base for bad in draft.scrap]
    if min(tallied, default=0) <= 0:
        raise NothingRecordedError(
            "Record at least one good or one scrapped piece, and no line of none."
        )
    weighed = [row.item_code for row in draft.by_products]
    if len(set(weighed)) != len(weighed):
        raise NamedTwiceError("A by-product stands twice. Add its amounts up.", items=weighed)


def _locked_takes(
    draft: EntryDraft, bill: BillSheet | None, *, first_entry: bool, at: datetime
) -> tuple[dict[int, int], dict[int, Lot]]:
    """Choose lots, then lock them; choose again if somebody took of them while this waited.

    Two benches choose the same lot: the one that expires first. The second may need the next one.
    Where all was weighed there is nothing to choose.
    """
    pieces = draft.good_base + draft.scrapped_base
    if is_all_weighed(bill, pieces=pieces, first_entry=first_entry, uses=draft.lots):
        named = lock_lots(use.lot_code for use in draft.lots)
        lots = {lot.pk: lot for lot in named.values()}
        return _takes(draft, bill, first_entry=first_entry, at=at, locked=lots), lots
    takes = _takes(draft, bill, first_entry=first_entry, at=at)
    lots = lock_lots_by_id(takes)
    if any(lot.on_hand_base < takes[lot.pk] for lot in lots.values()):
        takes = _takes(draft, bill, first_entry=first_entry, at=at)
        lots = lock_lots_by_id(takes)
    return takes, lots


def _takes(
    draft: EntryDraft,
    bill: BillSheet | None,
    *,
    first_entry: bool,
    at: datetime,
    locked: Mapping[int, Lot] | None = None,
) -> dict[int, int]:
    pieces, uses = draft.good_base + draft.scrapped_base, draft.lots
    if bill is None:
        return takes_without_bill(pieces=pieces, uses=uses, at=at, locked=locked)
    return takes_by_bill(
        bill, pieces=pieces, first_entry=first_entry, uses=uses, at=at, locked=locked
    )


def _outputs(
    draft: EntryDraft, batch: Batch, bill: BillSheet | None, *, first_entry: bool, at: datetime
) -> tuple[list[_Output], list[tuple[_Output, SheetLine]]]:
    """What the entry makes: a lot a grade, and a lot a by-product that weighs something."""
    place_id = batch.item.storage_place_id or batch.stage.place_id
    if place_id is None:
        raise OutputHasNoPlaceError(
            "Nothing says where the output goes. Give the item a storage place or the stage a "
            "place.",
            item=batch.item.code,
            stage=batch.stage.code,
        )
    life = batch.item.made_life_minutes
    by_grade: dict[str, int] = {}
    for tally in draft.good:
        by_grade[tally.grade] = by_grade.get(tally.grade, 0) + tally.qty_base
    outputs = [
        _Output(
            item_id=batch.item_id,
            place_id=place_id,
            qty_base=qty_base,
            grade=grade,
            expires_at=None if life is None else at + timedelta(minutes=life),
        )
        for grade, qty_base in by_grade.items()
    ]
    return outputs, _by_products(draft, bill, place_id, first_entry=first_entry)


def _by_products(
    draft: EntryDraft, bill: BillSheet | None, place_id: int, *, first_entry: bool
) -> list[tuple[_Output, SheetLine]]:
    weighed = {row.item_code: row.qty_base for row in draft.by_products}
    lines = () if bill is None else bill.by_products
    unknown = sorted(weighed.keys() - {line.item.code for line in lines})
    if unknown:
        raise NotAByProductError(
            "The bill has no such by-product.",
            items=unknown,
            bill_has=[line.item.code for line in lines],
        )
    found = []
    for line in lines:
        computed = line_need_base(
            per_piece_base=line.per_piece_base,
            pieces=draft.good_base + draft.scrapped_base,
            per_batch_base=line.per_batch_base,
            loss_ratio=line.loss_ratio,
            first_entry=first_entry,
        )
        qty_base = weighed.get(line.item.code, computed)
        if qty_base > 0:
            output = _Output(
                item_id=line.item.id,
                place_id=line.item.storage_place_id or place_id,
                qty_base=qty_base,
                grade="first",
            )
            found.append((output, line))
    return found


def _post(
    batch: Batch,
    taken: Sequence[Change],
    outputs: Sequence[_Output],
    by_products: Sequence[tuple[_Output, SheetLine]],
    stamp: Stamp,
) -> Posted:
    values = entry_values(
        total_micro=-sum(change.value_micro for change in taken),
        pieces_by_output=[output.qty_base for output in outputs],
        by_product_ratios=[line.value_ratio for _, line in by_products],
    )
    disposition = born_disposition(change.lot for change in taken)
    made = [*outputs, *(output for output, _ in by_products)]
    micros = [*values.outputs_micro, *values.by_products_micro]
    return post(
        kind=PostingKind.MIXED if batch.stage.is_mixing else PostingKind.MADE,
        stamp=stamp,
        changes=taken,
        makes=[
            Make(
                item_id=output.item_id,
                place_id=output.place_id,
                qty_base=output.qty_base,
                value_micro=micro,
                grade=output.grade,
                disposition=disposition,
                expires_at=output.expires_at,
            )
            for output, micro in zip(made, micros, strict=True)
        ],
        outside_kind=OutsideKind.NONE if outputs else OutsideKind.LOSS,
        document=Document("batch", batch.code),
    )


def _note_override(overridden: Sequence[Lot], posted: Posted, stamp: Stamp, reason: str) -> None:
    if not overridden:
        return
    kept = replace(stamp, reason=reason)
    LotEvent.objects.bulk_create(
        [
            LotEvent(
                lot=lot,
                kind=EventKind.EXPIRY_OVERRIDDEN,
                at=kept.at,
                recorded_at=kept.now,
                by=kept.by,
                reason=kept.reason,
                posting=posted.posting,
            )
            for lot in overridden
        ]
    )


def _note_entry(
    draft: EntryDraft, batch: Batch, names: Names, posted: Posted, stamp: Stamp
) -> Entry:
    entry = Entry(
        posting=posted.posting,
        batch=batch,
        done_by_id=names.done_by_id or stamp.by.pk,
        good_base=draft.good_base,
        scrapped_base=draft.scrapped_base,
        minutes=draft.minutes,
    )
    insert([entry])
    good = [
        EntryTally(
            entry=entry,
            grade=tally.grade,
            equipment_id=names.equipment.get(tally.equipment_code),
            qty_base=tally.qty_base,
        )
        for tally in draft.good
    ]
    scrap = [
        EntryTally(
            entry=entry,
            scrap_reason_id=names.reasons[tally.reason_code],
            equipment_id=names.equipment.get(tally.equipment_code),
            qty_base=tally.qty_base,
        )
        for tally in draft.scrap
    ]
    insert([*good, *scrap])
    used = [
        EntryFactor(entry=entry, equipment_id=names.equipment[code])
        for code in draft.equipment_codes
    ]
    named = [
        EntryFactor(entry=entry, name=name, value=value) for name, value in draft.factors.items()
    ]
    weighed = [
        EntryFactor(entry=entry, name="weighed", value=row.item_code) for row in draft.by_products
    ]
    insert([*used, *named, *weighed])
    return entry
