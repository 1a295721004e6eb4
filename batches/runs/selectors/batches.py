"""Reads of batches: the list, one with its entries, what it would take now."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any, Final, NamedTuple

from django.db.models import Count, F, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from batches.bills.models import Stage
from batches.runs.models import Batch, BatchEvent, Entry, EntryFactor, EntryTally, ScrapReason
from inventory.stock.models import Grade, Movement
from inventory.stock.selectors.amounts import AmountRow, amount_row
from shopfloor.codes.alphabet import Prefix, decode
from shopfloor.errors import NotFoundError
from shopfloor.money import money_text

# What doors offer to choose from: they may not import the tables.
GRADES: Final = Grade.choices

STANDING = Q(posting__reversed_by__isnull=True)


class BatchRow(NamedTuple):
    """A batch with what its standing entries add up to."""

    code: str
    item: str
    item_name: str
    stage: str
    revision: int | None
    state: str
    planned: AmountRow
    planned_on: date | None
    good: AmountRow
    scrapped: AmountRow
    entries: int
    note: str
    by: str
    recorded_at: datetime


class StateRow(NamedTuple):
    """A change of a batch's state."""

    before: str
    after: str
    at: datetime
    by: str
    reason: str


class TallyRow(NamedTuple):
    """Pieces of an entry: good of a grade, or scrapped for a reason."""

    grade: str
    scrap_reason: str | None
    equipment: str | None
    amount: AmountRow


class FactorRow(NamedTuple):
    """A circumstance of an entry."""

    name: str
    value: str


class LotAmountRow(NamedTuple):
    """A lot and an amount of it."""

    lot: str
    item: str
    amount: AmountRow
    value: str


class EntryRow(NamedTuple):
    """An entry with what it took and made."""

    code: str
    batch: str
    posting: str
    at: datetime
    recorded_at: datetime
    by: str
    done_by: str
    good: AmountRow
    scrapped: AmountRow
    minutes: int | None
    reason: str
    reversed_by: str | None
    tallies: list[TallyRow]
    factors: list[FactorRow]
    taken: list[LotAmountRow]
    made: list[LotAmountRow]


class BatchPage(NamedTuple):
    """A batch with its states and entries, oldest first."""

    batch: BatchRow
    states: list[StateRow]
    entries: list[EntryRow]


def batches() -> QuerySet[Batch]:
    """All batches with their sums, to be filtered and paged."""
    standing = Entry.objects.filter(STANDING, batch=OuterRef("pk")).order_by().values("batch")
    return (
        Batch.objects.select_related("item", "stage", "revision", "by")
        .annotate(
            good_base=Coalesce(Subquery(standing.annotate(n=Sum("good_base")).values("n")), 0),
            scrapped_base=Coalesce(
                Subquery(standing.annotate(n=Sum("scrapped_base")).values("n")), 0
            ),
            entry_count=Coalesce(Subquery(standing.annotate(n=Count("pk")).values("n")), 0),
        )
        .order_by("id")
    )


def batch_row(batch: Any) -> BatchRow:
    """One row of `batches()`. No query."""
    item = batch.item

    def shown(qty_base: int) -> AmountRow:
        return amount_row(qty_base, dimension=item.dimension, unit=item.display_unit)

    return BatchRow(
        code=batch.code,
        item=item.code,
        item_name=item.name,
        stage=batch.stage.code,
        revision=None if batch.revision is None else batch.revision.number,
        state=batch.state,
        planned=shown(batch.planned_base),
        planned_on=batch.planned_on,
        good=shown(batch.good_base),
        scrapped=shown(batch.scrapped_base),
        entries=batch.entry_count,
        note=batch.note,
        by=batch.by.username,
        recorded_at=batch.recorded_at,
    )


def batch_by_id(batch_id: int) -> BatchRow:
    """One batch that is known to stand. One statement."""
    return batch_row(batches().get(pk=batch_id))


def batch_page(code: str) -> BatchPage:
    """One batch with everything recorded for it. Six statements.

    Raises:
        NotFoundError: no such batch.
    """
    batch = batches().filter(code=code).first()
    if batch is None:
        raise NotFoundError("No batch has this code. Check it, or scan the traveler.", batch=code)
    events = BatchEvent.objects.filter(batch=batch).select_related("by").order_by("id")
    return BatchPage(
        batch=batch_row(batch),
        states=[
            StateRow(
                before=event.before,
                after=event.after,
                at=event.at,
                by=event.by.username,
                reason=event.reason,
            )
            for event in events
        ],
        entries=entry_rows(entries().filter(batch=batch)),
    )


def entries() -> QuerySet[Entry]:
    """All entries, oldest first, to be filtered and paged."""
    return Entry.objects.select_related(
        "posting__by", "posting__reversed_by", "batch__item", "done_by"
    ).order_by("pk")


def entry_row(code: str) -> EntryRow:
    """One entry. Four statements.

    Raises:
        NotFoundError: no such entry.
        CodeTypoError: a slip in the code.
    """
    rows = entry_rows(entries().filter(pk=decode(code, Prefix.ENTRY)[1]))
    if not rows:
        raise NotFoundError("No entry has this code.", entry=code)
    return rows[0]


def entry_rows(page: Iterable[Entry]) -> list[EntryRow]:
    """Rows of a page of `entries()`. Three statements for all their tallies, factors, movements."""
    page = list(page)
    keys = [entry.pk for entry in page]
    tallies = _by_entry(
        EntryTally.objects.filter(entry__in=keys)
        .select_related("scrap_reason", "equipment", "entry__batch__item")
        .order_by("id")
    )
    factors = _by_entry(
        EntryFactor.objects.filter(entry__in=keys).select_related("equipment").order_by("id")
    )
    moved: dict[int, list[Movement]] = {}
    for movement in (
        Movement.objects.filter(posting__in=keys).select_related("lot__item").order_by("id")
    ):
        moved.setdefault(movement.posting_id, []).append(movement)
    return [
        _entry_row(
            entry,
            tallies.get(entry.pk, []),
            factors.get(entry.pk, []),
            moved.get(entry.pk, []),
        )
        for entry in page
    ]


def _by_entry(rows: Iterable[Any]) -> dict[int, list[Any]]:
    found: dict[int, list[Any]] = {}
    for row in rows:
        found.setdefault(row.entry_id, []).append(row)
    return found


def _entry_row(
    entry: Entry,
    tallies: Iterable[EntryTally],
    factors: Iterable[EntryFactor],
    movements: Iterable[Movement],
) -> EntryRow:
    item, posting = entry.batch.item, entry.posting
    undone = getattr(posting, "reversed_by", None)

    def shown(qty_base: int) -> AmountRow:
        return amount_row(qty_base, dimension=item.dimension, unit=item.display_unit)

    return EntryRow(
        code=entry.code,
        batch=entry.batch.code,
        posting=posting.code,
        at=posting.at,
        recorded_at=posting.recorded_at,
        by=posting.by.username,
        done_by=entry.done_by.username,
        good=shown(entry.good_base),
        scrapped=shown(entry.scrapped_base),
        minutes=entry.minutes,
        reason=posting.reason,
        reversed_by=None if undone is None else undone.code,
        tallies=[
            TallyRow(
                grade=tally.grade,
                scrap_reason=None if tally.scrap_reason is None else tally.scrap_reason.code,
                equipment=None if tally.equipment is None else tally.equipment.code,
                amount=shown(tally.qty_base),
            )
            for tally in tallies
        ],
        factors=[
            FactorRow(name=factor.name, value=factor.value)
            if factor.equipment is None
            else FactorRow(name=factor.equipment.kind, value=factor.equipment.code)
            for factor in factors
        ],
        taken=[_lot_amount(m, sign=-1) for m in movements if m.qty_base < 0],
        made=[_lot_amount(m, sign=1) for m in movements if m.qty_base > 0],
    )


def _lot_amount(movement: Movement, *, sign: int) -> LotAmountRow:
    item = movement.lot.item
    return LotAmountRow(
        lot=movement.lot.code,
        item=item.code,
        amount=amount_row(
            sign * movement.qty_base, dimension=item.dimension, unit=item.display_unit
        ),
        value=money_text(sign * movement.value_micro),
    )


def scrap_reasons() -> QuerySet[ScrapReason, Mapping[str, Any]]:
    """All scrap reasons, to be filtered and paged."""
    return (
        ScrapReason.objects.order_by("code")
        .values("code", "name", "is_active")
        .annotate(stage=F("stage__code"))
    )


def stage_positions() -> dict[str, int]:
    """The stages in the order of the shop. One statement."""
    return dict(Stage.objects.values_list("code", "position"))
