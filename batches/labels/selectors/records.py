"""The whole record of a batch: its bill, what went in, what was found, where it is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import datetime
from decimal import Decimal
from typing import NamedTuple

from batches.bills.selectors.amounts import per_amount, shown_amount
from batches.bills.selectors.sheets import BillSheet, SheetLine, sheets_by_id
from batches.labels.models import Printing
from batches.labels.selectors.printings import PrintingRow, printing_rows
from batches.packing.selectors import ComplaintRow, complaints_naming
from batches.quality.selectors.checks import CheckRow, checks, row_of
from batches.recall.selectors.cases import RecallRow, recall_rows, recalls
from batches.runs.models import Batch
from batches.runs.selectors.batches import BatchPage, batch_page
from batches.trace.selectors import Question, downstream, upstream
from batches.trace.selectors.rows import BatchRow, ReceiptRow, ShippedRow, Upstream
from inventory.stock.models import EventKind, HeldLot, Lot, LotEvent
from inventory.stock.selectors.among import AmongCodes
from inventory.stock.selectors.amounts import AmountRow
from inventory.stock.selectors.lots import HoldRow, hold_row, holds
from shopfloor.snapshot import snapshot


class NeedRow(NamedTuple):
    """A line of the bill that the batch was made to; `each` is for one piece, or for `makes`."""

    item: str
    name: str
    role: str
    takes: AmountRow
    makes: AmountRow
    per_batch: AmountRow
    loss_ratio: str


class TakenRow(NamedTuple):
    """A lot that the batch took, in all its standing entries, and what was concluded of it."""

    lot: str
    item: str
    name: str
    amount: AmountRow
    supplier: str | None
    supplier_lot_code: str
    born_at: datetime
    disposition: str


class ConclusionRow(NamedTuple):
    """A change of the disposition of a lot that went in or came out: by a test, a hold, a lead."""

    lot: str
    at: datetime
    by: str
    before: str
    after: str
    reason: str


class YieldRow(NamedTuple):
    """What a batch upstream, or this one, made of what its entries took; ratio from 0 to 1."""

    batch: str
    stage: str
    item: str
    first_at: datetime | None
    good: AmountRow
    scrapped: AmountRow
    ratio: str | None


class RecordPage(NamedTuple):
    """The record."""

    page: BatchPage
    bill: list[NeedRow]
    taken: list[TakenRow]
    conclusions: list[ConclusionRow]
    yields: list[YieldRow]
    checks: list[CheckRow]
    holds: list[HoldRow]
    complaints: list[ComplaintRow]
    recalls: list[RecallRow]
    printings: list[PrintingRow]
    receipts: list[ReceiptRow]
    upstream: list[BatchRow]
    shipments: list[ShippedRow]


@snapshot()
def record_page(code: str) -> RecordPage:
    """The record of a batch as of one moment. Some 50 statements.

    Raises:
        NotFoundError: no such batch.
        TraceTooLargeError: more went in, or came of it, than anybody reads.
    """
    page = batch_page(code)
    has_entry = any(entry.reversed_by is None for entry in page.entries)
    question = Question(batch=code, fold="batches")
    up = upstream(question) if has_entry else None
    down = downstream(question) if has_entry else None
    made = {row.lot for entry in page.entries for row in entry.made if entry.reversed_by is None}
    onward = {node.code for node in down.nodes} if down else set()
    boxes = {row.box for row in down.boxes} if down else set()
    taken = _taken(page)
    return RecordPage(
        page=page,
        bill=_bill(code),
        taken=taken,
        conclusions=_conclusions({row.lot for row in taken} | made),
        yields=_yields(up, page),
        checks=[row_of(row) for row in checks().filter(batch__code=code).order_by("pk")],
        holds=_holds(made),
        complaints=complaints_naming(lots=onward, boxes=boxes),
        recalls=_recalls({row.lot for row in taken} | onward),
        printings=_printings({code} | onward | boxes),
        receipts=[] if up is None else up.receipts,
        upstream=[] if up is None else up.batches or [],
        shipments=[] if down is None else down.shipments,
    )


def _bill(code: str) -> list[NeedRow]:
    """Two statements."""
    revision_id = Batch.objects.values_list("revision_id", flat=True).get(code=code)
    sheet = sheets_by_id([revision_id]).get(revision_id) if revision_id else None
    return [] if sheet is None else [_need(line, sheet) for line in sheet.lines]


def _need(line: SheetLine, sheet: BillSheet) -> NeedRow:
    share = per_amount(line.per_piece_base, item=line.item, made=sheet.item)
    return NeedRow(
        item=line.item.code,
        name=line.item.name,
        role=line.role,
        takes=AmountRow(f"{share.takes.amount:f}", share.takes.unit),
        makes=AmountRow(f"{share.makes.amount:f}", share.makes.unit),
        per_batch=_row(line.per_batch_base, line),
        loss_ratio=f"{line.loss_ratio.normalize():f}",
    )


def _row(qty_base: int, line: SheetLine) -> AmountRow:
    shown = shown_amount(qty_base, line.item)
    return AmountRow(f"{shown.amount:f}", shown.unit)


def _taken(page: BatchPage) -> list[TakenRow]:
    """One statement."""
    sums: dict[str, Decimal] = defaultdict(Decimal)
    units: dict[str, str] = {}
    for entry in page.entries:
        for row in entry.taken if entry.reversed_by is None else ():
            # One item's amounts may be pieces here and dozens there, never so of one lot.
            sums[row.lot] += Decimal(row.amount.amount)
            units[row.lot] = row.amount.unit
    lots = Lot.objects.filter(AmongCodes("code", sums)).select_related("item", "supplier")
    return [
        TakenRow(
            lot=lot.code,
            item=lot.item.code,
            name=lot.item.name,
            amount=AmountRow(f"{sums[lot.code]:f}", units[lot.code]),
            supplier=None if lot.supplier is None else lot.supplier.name,
            supplier_lot_code=lot.supplier_lot_code,
            born_at=lot.born_at,
            disposition=lot.disposition,
        )
        for lot in lots.order_by("item__code", "pk")
    ]


def _conclusions(codes: Collection[str]) -> list[ConclusionRow]:
    """One statement."""
    found = LotEvent.objects.filter(
        AmongCodes("lot__code", codes), kind=EventKind.DISPOSITION
    ).select_related("lot", "by")
    return [
        ConclusionRow(
            event.lot.code, event.at, event.by.username, event.before, event.after, event.reason
        )
        for event in found.order_by("at", "pk")
    ]


def _yields(up: Upstream | None, page: BatchPage) -> list[YieldRow]:
    """Of the batches upstream, as far as their entries went in here, then of this one."""
    rows = [
        _yield(row, each.amount)
        for row in (up.batches or [] if up else [])
        if row.batch != page.batch.code
        for each in row.made
        if each.item == row.item
    ]
    own = page.batch
    first_at = min((entry.at for entry in page.entries if entry.reversed_by is None), default=None)
    ratio = _ratio(own.good, own.scrapped)
    last = YieldRow(own.code, own.stage, own.item, first_at, own.good, own.scrapped, ratio)
    return [*rows, last]


def _yield(row: BatchRow, good: AmountRow) -> YieldRow:
    ratio = _ratio(good, row.scrapped)
    return YieldRow(row.batch, row.stage, row.item, row.first_at, good, row.scrapped, ratio)


def _ratio(good: AmountRow, scrapped: AmountRow) -> str | None:
    """Good of good and scrapped; None where there is neither, or they are not in one unit."""
    whole = Decimal(good.amount) + Decimal(scrapped.amount)
    is_same = good.unit == scrapped.unit or not Decimal(scrapped.amount)
    return f"{Decimal(good.amount) / whole:.4f}" if whole and is_same else None


def _holds(made: Collection[str]) -> list[HoldRow]:
    """Of the lots it made, whatever the hold began with. One statement."""
    stopped = HeldLot.objects.filter(AmongCodes("lot__code", made)).values("hold")
    return [hold_row(hold) for hold in holds().filter(pk__in=stopped).order_by("pk")]


def _recalls(lots: Iterable[str]) -> list[RecallRow]:
    """Cases that begin from a lot that went in or came of it. Two statements."""
    found = recalls().filter(AmongCodes("lots__lot__code", lots)).order_by("pk").distinct()
    return recall_rows(found)


def _printings(codes: Collection[str]) -> list[PrintingRow]:
    """Papers of the batch, its lots and their boxes, first one first. Two statements."""
    found = Printing.objects.filter(AmongCodes("papers__code", codes))
    return [
        # Whatever else was printed in the same go is of other batches.
        row._replace(papers=[paper for paper in row.papers if paper.code in codes])
        for row in printing_rows(list(found.select_related("by").order_by("pk").distinct()))
    ]
