"""Batch records as reports that somebody reads alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from decimal import Decimal

from batches.labels.rules.papers import BoxLabel, LotLabel
from batches.labels.rules.papers_report import Report, Section, Table
from batches.labels.selectors.boxes import box_labels
from batches.labels.selectors.lots import lot_labels
from batches.labels.selectors.moments import minute_text
from batches.labels.selectors.records import RecordPage, record_page
from batches.labels.selectors.reports import amount_text, complaint_table, moment_text, table
from batches.runs.selectors.batches import EntryRow

SIGN = (
    "Reviewed by ______________________________   on ____________________",
    "Area clear before and after ______________________________   on ____________________",
)
YIELDS = "Good pieces of good and scrapped ones: the theoretical yield is every piece good."


def batch_records(codes: Sequence[str], *, at: datetime) -> list[Report]:
    """Records, in the order asked, as they stand. Some 60 statements each.

    Raises:
        NotFoundError: a code that no batch has.
        TraceTooLargeError: more went in, or came of it, than anybody reads.
    """
    return [_report(record_page(code), at) for code in codes]


def _report(record: RecordPage, at: datetime) -> Report:
    batch = record.page.batch
    bill = "rework, without a bill" if batch.revision is None else f"revision {batch.revision}"
    return Report(
        code=batch.code,
        title=f"Batch record {batch.code}",
        facts=(
            ("Item", f"{batch.item} {batch.item_name}"),
            ("Stage", batch.stage),
            ("Bill", bill),
            ("State", f"{batch.state}, as of {minute_text(at)}"),
            ("Planned", amount_text(batch.planned)),
            ("Made", f"{amount_text(batch.good)} good, {amount_text(batch.scrapped)} scrapped"),
        ),
        sections=tuple(_sections(record)),
    )


def _sections(record: RecordPage) -> Iterator[Section]:
    entries = record.page.entries
    yield Section(title="Bill of materials it was made to", table=_bill(record))
    yield Section(title="When", table=_states(record))
    yield Section(title="Entries: who, on what, how many", table=_entries(entries))
    yield Section(title="Lots it took", table=_taken(record))
    yield Section(title="How bought lots came in", table=_receipts(record))
    others = len(record.upstream) - len(record.yields)
    also = f"By-products, as regrind, came from {others} more batches." if others > 0 else ""
    words = tuple(filter(None, (YIELDS, also)))
    yield Section(title="Stage by stage, with yields", words=words, table=_yields(record))
    yield Section(title="Checks and sampling", table=_checks(record))
    yield Section(title="What was concluded of its lots", table=_conclusions(record))
    yield Section(title="Holds", table=_holds(record))
    yield Section(title="Complaints", table=complaint_table(record.complaints))
    yield Section(title="Recalls", table=_recalls(record))
    yield Section(title="Papers printed", table=_printings(record))
    yield Section(title="Shipments", table=_shipments(record))
    yield from _specimens(record)
    yield Section(title="Signed", words=SIGN)


def _bill(record: RecordPage) -> Table:
    widths = {"Item": 20, "Name": 36, "Takes": 16, "For": 12, "Once a batch": 16}
    rows = (
        [
            row.item,
            row.name if row.role == "taken" else f"{row.name} (comes off beside)",
            amount_text(row.takes),
            amount_text(row.makes),
            amount_text(row.per_batch) if Decimal(row.per_batch.amount) else "",
        ]
        for row in record.bill
    )
    return table(widths, rows, nothing="None: it works over exactly the lots below.")


def _states(record: RecordPage) -> Table:
    widths = {"When": 18, "From": 14, "To": 14, "Who": 16, "Why": 38}
    rows = (
        [minute_text(row.at), row.before, row.after, row.by, row.reason]
        for row in record.page.states
    )
    return table(widths, rows, nothing="It was not started.")


def _entries(entries: Sequence[EntryRow]) -> Table:
    widths = {
        "Entry": 11,
        "When": 17,
        "Done by": 12,
        "Written by": 12,
        "Good": 9,
        "Scrapped, why": 18,
        "On, and how": 21,
    }
    return table(widths, map(_entry, entries), nothing="Nothing was recorded.")


def _entry(entry: EntryRow) -> list[str]:
    scrapped = (
        " ".join(filter(None, (amount_text(row.amount), row.scrap_reason, row.equipment)))
        for row in entry.tallies
        if row.scrap_reason is not None
    )
    return [
        entry.code
        if entry.reversed_by is None
        else f"{entry.code}, reversed by {entry.reversed_by}",
        minute_text(entry.at),
        entry.done_by,
        entry.by,
        amount_text(entry.good),
        ", ".join(scrapped),
        ", ".join(f"{row.name} {row.value}" for row in entry.factors),
    ]


def _taken(record: RecordPage) -> Table:
    widths = {
        "Lot": 18,
        "Item": 16,
        "Amount": 12,
        "Supplier and its lot": 28,
        "Since": 16,
        "Now": 10,
    }
    rows = (
        [
            row.lot,
            row.item,
            amount_text(row.amount),
            ", ".join(filter(None, (row.supplier, row.supplier_lot_code))),
            minute_text(row.born_at),
            row.disposition,
        ]
        for row in record.taken
    )
    return table(widths, rows, nothing="None.")


def _receipts(record: RecordPage) -> Table:
    widths = {
        "Receipt": 11,
        "When": 16,
        "Supplier and its lot": 28,
        "Order": 11,
        "Lot": 18,
        "Amount": 16,
    }
    rows = (
        [
            row.receipt,
            minute_text(row.at),
            ", ".join(filter(None, (row.supplier_name, row.supplier_lot_code))),
            row.order or "",
            row.lot,
            amount_text(row.amount),
        ]
        for row in record.receipts
    )
    return table(widths, rows, nothing="None was bought.")


def _yields(record: RecordPage) -> Table:
    widths = {"Batch": 15, "Stage": 12, "Item": 22, "First entry": 16, "Good": 12, "Scrapped": 12}
    rows = (
        [
            row.batch,
            row.stage,
            row.item,
            moment_text(row.first_at),
            amount_text(row.good),
            amount_text(row.scrapped),
            "" if row.ratio is None else f"{Decimal(row.ratio) * 100:.1f} %",
        ]
        for row in record.yields
    )
    return table(widths | {"Yield": 11}, rows, nothing="None.")


def _checks(record: RecordPage) -> Table:
    widths = {
        "Check": 10,
        "Of": 16,
        "When": 16,
        "Who": 10,
        "Plan": 22,
        "Tested": 8,
        "Failed": 8,
        "Verdict": 10,
    }
    rows = (
        [
            row.code,
            ", ".join(filter(None, (row.definition, row.lot))),
            minute_text(row.at),
            row.by,
            f"test {row.plan_pieces}, {row.accept} may fail"
            + (f"; letter {row.letter}, {row.severity}" if row.letter else ""),
            str(row.tested),
            str(row.failed),
            ("passed" if row.is_passed else "failed")
            + (f"; replaced by {row.replaced_by}" if row.replaced_by else ""),
        ]
        for row in record.checks
    )
    return table(widths, rows, nothing="None was recorded.")


def _conclusions(record: RecordPage) -> Table:
    widths = {"Lot": 18, "When": 17, "Who": 12, "From, to": 21, "Why": 32}
    rows = (
        [row.lot, minute_text(row.at), row.by, f"{row.before} to {row.after}", row.reason]
        for row in record.conclusions
    )
    return table(widths, rows, nothing="Nothing was changed: each is as it came in or was made.")


def _holds(record: RecordPage) -> Table:
    widths = {"Hold": 10, "On lot": 18, "Since": 16, "Who": 10, "Why": 30, "Released": 16}
    rows = (
        [
            row.code,
            row.lot,
            minute_text(row.at),
            row.by,
            row.reason,
            ", ".join(filter(None, (moment_text(row.released_at), row.release_reason)))
            or "not yet",
        ]
        for row in record.holds
    )
    return table(widths, rows, nothing="None.")


def _recalls(record: RecordPage) -> Table:
    widths = {"Recall": 14, "Kind": 12, "Asked": 18, "State": 12, "Why": 44}
    rows = (
        [row.code, row.kind, minute_text(row.at), row.state, row.reason] for row in record.recalls
    )
    return table(widths, rows, nothing="None.")


def _printings(record: RecordPage) -> Table:
    widths = {"Printing": 12, "When": 18, "Who": 12, "What": 18, "Of": 30, "Copies": 10}
    rows = (
        [
            row.code,
            minute_text(row.at),
            row.by,
            row.title,
            ", ".join(
                f"{each.code} (reprint {each.reprint})" if each.reprint else each.code
                for each in row.papers
            ),
            str(row.copies),
        ]
        for row in record.printings
    )
    return table(widths, rows, nothing="No printing was recorded.")


def _shipments(record: RecordPage) -> Table:
    widths = {"Shipment": 12, "When": 17, "Customer": 25, "Item": 18, "Boxes": 18, "Pieces": 10}
    rows = (
        [
            row.shipment,
            minute_text(row.at),
            f"{row.customer} {row.customer_name}",
            row.item,
            ", ".join(row.boxes),
            amount_text(row.amount),
        ]
        for row in record.shipments
    )
    return table(widths, rows, nothing="Nothing made of it has left.")


def _specimens(record: RecordPage) -> Iterator[Section]:
    """The sticker of the first lot that it made, and the label of the first box it is in."""
    made = [row.lot for entry in record.page.entries for row in entry.made if not entry.reversed_by]
    boxes = sorted({box for row in record.shipments for box in row.boxes})
    specimens: tuple[LotLabel | BoxLabel, ...]
    specimens = (*lot_labels(made[:1]), *box_labels(boxes[:1]))
    if specimens:
        words = (
            "Its lot sticker and, where pieces of it left, a box label, as they are printed now."
        )
        yield Section(title="Label specimens", words=(words,), specimens=specimens)
