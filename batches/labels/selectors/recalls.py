"""Recalls as reports that somebody reads alone: what was suspect and where every piece is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from decimal import Decimal

from batches.labels.rules.papers_report import Report, Section, Table
from batches.labels.selectors.moments import minute_text
from batches.labels.selectors.reports import (
    ADVICE,
    FIGURES,
    amount_text,
    complaint_table,
    moment_text,
    table,
)
from batches.recall.selectors.cases import RecallPage, RecallRow, recall_page
from batches.recall.selectors.runs import RunRow
from batches.recall.selectors.scope import BalanceRow, LotRow
from inventory.stock.selectors.amounts import AmountRow

WHAT = {
    "mock": "A mock recall: it was to be shown that everything is found. Nothing was held.",
    "real": "A recall: everything at risk that was still in the shop was held.",
}
BALANCE = (
    "For each item: received, made and parted from lots not at risk, less used, disposed of, sent "
    "back to suppliers and shipped, plus returned by customers, less what counts and adjustments "
    "did not find (unexplained; below zero where they found more), is what is on hand: free, or "
    "stopped (held, rejected, in quarantine)."
)
RUNS = (
    "Not accounted for is what a batch's entries took of an item counted in pieces beyond what the "
    "bill needs for their good and scrapped pieces; below zero where too few were written down."
)


def recall_reports(codes: Sequence[str], *, at: datetime) -> list[Report]:
    """Cases, in the order asked, as they stand. Some twenty statements each.

    Raises:
        NotFoundError: a code that no recall has.
        CodeUnreadableError, CodeTypoError, WrongKindOfCodeError: not the code of a recall.
        TraceTooLargeError: more is at risk than a walk goes through.
    """
    return [_report(recall_page(code, is_here_only=True), at) for code in codes]


def _report(page: RecallPage, at: datetime) -> Report:
    recall = page.recall
    return Report(
        code=recall.code,
        title=f"{'Mock recall' if recall.kind == 'mock' else 'Recall'} {recall.code}",
        facts=tuple(_facts(recall, at)),
        sections=tuple(_sections(page)),
    )


def _facts(recall: RecallRow, at: datetime) -> Iterator[tuple[str, str]]:
    yield "Asked", f"{minute_text(recall.at)} by {recall.by}"
    yield "Because", recall.reason
    yield "Suspect", recall.asked
    if recall.closed_at is None:
        yield "State", f"open, as of {minute_text(at)}"
    else:
        yield "Closed", f"{minute_text(recall.closed_at)} by {recall.closed_by}"
        yield "Took", _span(recall.minutes or 0)
        yield "Concluded", recall.conclusion


def _span(minutes: int) -> str:
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest} min" if hours else f"{rest} min"


def _sections(page: RecallPage) -> Iterator[Section]:
    risk = page.risk
    yield Section(title="In short", words=(WHAT[page.recall.kind], page.risk.in_short, ADVICE))
    yield Section(title="Where every piece is now", words=(BALANCE,), table=_balances(risk.items))
    for moment, title in (("begun", "when the case was begun"), ("closed", "when it was closed")):
        then = [figure.balance for figure in page.figures if figure.moment == moment]
        if then == risk.items:
            yield Section(title=f"Where every piece was {title}", words=("The same as now.",))
        elif then:
            yield Section(title=f"Where every piece was {title}", table=_balances(then))
    yield Section(title="Customers", table=_customers(page))
    yield Section(title="Letters: shipments and boxes", table=_letters(page))
    yield Section(title="Complaints", table=complaint_table(page.complaints))
    yield Section(title="Holds placed", table=_holds(page))
    yield Section(title="What was done and heard", table=_notes(page))
    yield Section(title="Runs that took something at risk", table=_stages(risk.runs))
    yield Section(
        title="Runs that do not come out even", words=(RUNS,), table=_unexplained(risk.runs)
    )
    others = f"{risk.lots_in_all - len(risk.lots):,} more lots at risk are used up or have left."
    yield Section(title="Lots at risk that are here", words=(others,), table=_lots(risk.lots))


def _balances(rows: Sequence[BalanceRow]) -> Table:
    widths = {"Item": 15.5, **dict.fromkeys(FIGURES, 7.5), "Unexplained": 9.5}
    cells = ([row.item, *map(_bare, row[2:])] for row in rows)
    return table(widths, cells, nothing="Nothing is at risk.")


def _bare(amount: AmountRow) -> str:
    """An amount; nothing where it is none, so that what is there stands out."""
    return "" if amount.amount == "0" else amount_text(amount)


def _customers(page: RecallPage) -> Table:
    figures = ("Shipped", "Returned", "Destroyed", "Outstanding")
    rows = (
        [
            f"{row.customer} {row.customer_name}",
            row.item,
            *map(amount_text, (row.shipped, row.returned, row.destroyed, row.outstanding)),
        ]
        for row in page.risk.customers
    )
    widths = {"Customer": 30, "Item": 22, **dict.fromkeys(figures, 12)}
    return table(widths, rows, nothing="Nothing at risk left to a customer.")


def _letters(page: RecallPage) -> Table:
    widths = {"Customer": 24, "Shipment": 9, "On": 16, "Item": 18, "Boxes": 17}
    rows = (
        [
            ", ".join(filter(None, (f"{row.customer} {row.customer_name}", row.address))),
            row.shipment,
            minute_text(row.at),
            row.item,
            ", ".join(row.boxes),
            amount_text(row.shipped),
            _bare(row.returned),
        ]
        for row in page.risk.letters
    )
    widths |= {"Shipped": 8, "Returned": 8}
    return table(widths, rows, nothing="There is nobody to write to.")


def _holds(page: RecallPage) -> Table:
    widths = {"Hold": 12, "On lot": 20, "Released": 16, "By": 14, "Because": 38}
    rows = (
        [
            row.hold,
            row.lot,
            moment_text(row.released_at) or "not yet",
            row.released_by or "",
            row.release_reason,
        ]
        for row in page.holds
    )
    return table(widths, rows, nothing="None.")


def _notes(page: RecallPage) -> Table:
    widths = {"When": 16, "Who": 12, "What": 44, "Customer": 14, "Destroyed there": 14}
    rows = (
        [
            minute_text(row.at),
            row.by,
            row.reason,
            row.customer or "",
            f"{row.destroyed} {row.item}" if row.item else "",
        ]
        for row in page.notes
    )
    return table(widths, rows, nothing="Nothing was written down.")


def _stages(runs: Sequence[RunRow]) -> Table:
    """By stage and item, in the order of their first runs."""
    widths = {"Stage": 20, "Item": 32, "Batches": 12, "Good": 18, "Scrapped": 18}
    groups: dict[tuple[str, str], list[RunRow]] = defaultdict(list)
    for run in runs:
        groups[run.stage, run.item].append(run)
    rows = (
        [stage, item, str(len(its)), _sum(row.good for row in its), _sum(r.scrapped for r in its)]
        for (stage, item), its in groups.items()
    )
    return table(widths, rows, nothing="No run took any of it.")


def _sum(amounts: Iterable[AmountRow]) -> str:
    """Amounts of one item, in the unit of each; a dozen may stand beside pieces."""
    sums: dict[str, Decimal] = defaultdict(Decimal)
    for amount in amounts:
        sums[amount.unit] += Decimal(amount.amount)
    return " and ".join(
        amount_text(AmountRow(f"{number:f}", unit)) for unit, number in sums.items() if number
    )


def _unexplained(runs: Sequence[RunRow]) -> Table:
    widths = {"Batch": 20, "Stage": 16, "Item": 26, "First": 18}
    rows = (
        [
            row.batch,
            row.stage,
            row.item,
            minute_text(row.first_at),
            ", ".join(f"{amount_text(each.amount)} {each.item}" for each in row.unexplained),
        ]
        for row in runs
        if row.unexplained
    )
    return table(widths | {"Not accounted for": 20}, rows, nothing="None.")


def _lots(lots: Sequence[LotRow]) -> Table:
    widths = {"Lot": 20, "Item": 18, "Since": 16, "Place": 20, "Disposition": 13, "On hand": 13}
    rows = (
        [
            row.lot,
            row.balance.item,
            minute_text(row.born_at),
            row.place,
            row.disposition,
            amount_text(row.balance.free if row.disposition == "released" else row.balance.stopped),
        ]
        for row in lots
    )
    return table(widths, rows, nothing="None.")
