"""Reads of recalls: the list, and one whole case."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import NamedTuple

from django.db.models import QuerySet

from batches.packing.selectors import ComplaintRow, complaints_naming
from batches.recall.models import Recall, RecallFigure, RecallHold, RecallKind, RecallLot
from batches.recall.rules import FIGURES
from batches.recall.selectors.asked import Asked, suspect_lots
from batches.recall.selectors.runs import RunRow
from batches.recall.selectors.scope import BalanceRow, LotRow, Scope, Sent, lot_rows, scope_of
from batches.recall.selectors.short import in_short
from batches.trace.selectors.rows import Unit
from inventory.stock.models import Lot
from inventory.stock.selectors.among import Among
from inventory.stock.selectors.amounts import AmountRow
from shopfloor.codes.alphabet import Prefix, decode
from shopfloor.errors import NotFoundError
from shopfloor.snapshot import snapshot

KINDS = RecallKind.choices


class RecallRow(NamedTuple):
    """A case; `minutes` from when it was asked to when it was closed."""

    code: str
    kind: str
    state: str
    at: datetime
    recorded_at: datetime
    by: str
    reason: str
    asked: str
    lots: list[str]
    closed_at: datetime | None
    closed_by: str | None
    conclusion: str
    minutes: int | None


class HoldRow(NamedTuple):
    """A hold that the case placed, and who ended it."""

    hold: str
    lot: str
    released_at: datetime | None
    released_by: str | None
    release_reason: str


class NoteRow(NamedTuple):
    """What was done or heard."""

    at: datetime
    by: str
    reason: str
    customer: str | None
    item: str | None
    destroyed: int


class FigureRow(NamedTuple):
    """A balance as it was when the case was begun or closed."""

    moment: str
    balance: BalanceRow


class LetterRow(NamedTuple):
    """A line of the letter to a customer: what left of an item with one shipment."""

    recall: str
    customer: str
    customer_name: str
    address: str
    shipment: str
    at: datetime
    item: str
    name: str
    boxes: list[str]
    lots: list[str]
    shipped: AmountRow
    returned: AmountRow


class CustomerRow(NamedTuple):
    """What a customer got of an item, what came back or was destroyed there, what is out yet."""

    customer: str
    customer_name: str
    item: str
    name: str
    shipped: AmountRow
    returned: AmountRow
    destroyed: AmountRow
    outstanding: AmountRow


class RiskPage(NamedTuple):
    """Everything at risk, as of one moment; `lots` may leave out those that hold nothing."""

    lots_asked: list[str]
    in_short: str
    items: list[BalanceRow]
    customers: list[CustomerRow]
    letters: list[LetterRow]
    runs: list[RunRow]
    lots_in_all: int
    lots: list[LotRow]


class RecallPage(NamedTuple):
    """A case, with everything at risk as of now."""

    recall: RecallRow
    holds: list[HoldRow]
    complaints: list[ComplaintRow]
    notes: list[NoteRow]
    figures: list[FigureRow]
    risk: RiskPage


def recalls() -> QuerySet[Recall]:
    """All cases, to be filtered and paged; `recall_rows` makes rows of a page."""
    return Recall.objects.select_related("by", "closing__by")


def recall_rows(found: Iterable[Recall]) -> list[RecallRow]:
    """Cases with the lots they begin from. One statement."""
    cases = list(found)
    lots: dict[int, list[str]] = defaultdict(list)
    rows = RecallLot.objects.filter(Among("recall", [each.pk for each in cases])).order_by("pk")
    for recall_id, lot in rows.values_list("recall_id", "lot__code"):
        lots[recall_id].append(lot)
    return [_recall_row(each, lots[each.pk]) for each in cases]


def _recall_row(recall: Recall, lots: list[str]) -> RecallRow:
    closing = getattr(recall, "closing", None)
    return RecallRow(
        code=recall.code,
        kind=recall.kind,
        state="open" if closing is None else "closed",
        at=recall.at,
        recorded_at=recall.recorded_at,
        by=recall.by.username,
        reason=recall.reason,
        asked=recall.asked,
        lots=lots,
        closed_at=None if closing is None else closing.at,
        closed_by=None if closing is None else closing.by.username,
        conclusion="" if closing is None else closing.reason,
        minutes=None if closing is None else int((closing.at - recall.at).total_seconds()) // 60,
    )


def recall_named(code: str) -> Recall:
    """One case. One statement.

    Raises:
        NotFoundError: there is none.
        CodeUnreadableError, CodeTypoError, WrongKindOfCodeError: not the code of a recall.
    """
    found = recalls().filter(pk=decode(code, Prefix.RECALL)[1]).first()
    if found is None:
        raise NotFoundError("No recall has this code. Look at the list.", recall=code)
    return found


@snapshot()
def recall_page(code: str, *, is_here_only: bool = False) -> RecallPage:
    """One whole case as of one moment. Fourteen statements.

    Args:
        code: Of the case.
        is_here_only: Leave out the lots that hold nothing any more.

    Raises:
        NotFoundError, CodeUnreadableError, CodeTypoError, WrongKindOfCodeError: as of the code.
        TraceTooLargeError: more is at risk than a walk goes through.
    """
    recall = recall_named(code)
    begun = dict(recall.lots.order_by("pk").values_list("lot_id", "lot__code"))
    scope = scope_of(begun)
    notes = list(recall.notes.select_related("by", "customer", "item"))
    rows = [
        NoteRow(
            at=note.at,
            by=note.by.username,
            reason=note.reason,
            customer=None if note.customer is None else note.customer.code,
            item=None if note.item is None else note.item.code,
            destroyed=note.destroyed_base,
        )
        for note in notes
    ]
    row = _recall_row(recall, list(begun.values()))
    return RecallPage(
        recall=row,
        holds=_holds(recall),
        complaints=complaints_naming(
            lots={node.code for node in scope.nodes.values()}, boxes=scope.boxes
        ),
        notes=rows,
        figures=_figures(recall),
        risk=risk_page(
            scope, lots_asked=row.lots, recall=row.code, notes=rows, is_here_only=is_here_only
        ),
    )


@snapshot()
def preview(asked: Asked) -> RiskPage:
    """Everything at risk from something suspect. Some nine statements.

    Raises:
        NothingAtRiskError, NotFoundError, NothingToTraceError: as of `suspect_lots`.
        TraceTooLargeError: more is at risk than a walk goes through.
    """
    lot_ids = suspect_lots(asked)
    codes = Lot.objects.filter(Among("pk", lot_ids)).order_by("pk").values_list("code", flat=True)
    return risk_page(scope_of(lot_ids), lots_asked=list(codes))


@snapshot()
def letters_of(code: str | None) -> list[LetterRow]:
    """Whom to write to: in one case, or in every open one.

    Raises:
        NotFoundError, CodeUnreadableError, CodeTypoError, WrongKindOfCodeError: as of the code.
        TraceTooLargeError: more is at risk than a walk goes through.
    """
    cases = recalls().filter(closing__isnull=True) if code is None else [recall_named(code)]
    return [
        letter_row(sent, recall.code)
        for recall in cases
        for sent in scope_of(recall.lots.values_list("lot_id", flat=True)).sent
    ]


def risk_page(
    scope: Scope,
    *,
    lots_asked: Sequence[str],
    recall: str = "",
    notes: Iterable[NoteRow] = (),
    is_here_only: bool = False,
) -> RiskPage:
    """Everything at risk, with what customers say they destroyed. No statement."""
    customers = _customers(scope.sent, notes)
    letters = [letter_row(each, recall) for each in scope.sent]
    lots = lot_rows(scope, is_here_only=is_here_only)
    return RiskPage(
        lots_asked=list(lots_asked),
        in_short=in_short(items=scope.items, customers=customers, letters=letters, lots=lots),
        items=scope.items,
        customers=customers,
        letters=letters,
        runs=scope.runs,
        lots_in_all=len(scope.nodes),
        lots=lots,
    )


def letter_row(sent: Sent, recall: str) -> LetterRow:
    """A line of a letter."""
    return LetterRow(
        recall=recall,
        customer=sent.customer,
        customer_name=sent.customer_name,
        address=sent.address,
        shipment=sent.shipment,
        at=sent.at,
        item=sent.item,
        name=sent.name,
        boxes=sent.boxes,
        lots=sent.lots,
        shipped=sent.unit.row(sent.shipped_base),
        returned=sent.unit.row(sent.returned_base),
    )


def _customers(sent: Iterable[Sent], notes: Iterable[NoteRow]) -> list[CustomerRow]:
    destroyed: dict[tuple[str | None, str | None], int] = defaultdict(int)
    for note in notes:
        destroyed[note.customer, note.item] += note.destroyed
    groups: dict[tuple[str, str], list[Sent]] = defaultdict(list)
    for each in sent:
        groups[each.customer, each.item].append(each)
    return [_customer_row(its, destroyed[key]) for key, its in groups.items()]


def _customer_row(sent: Sequence[Sent], destroyed_base: int) -> CustomerRow:
    shipped_base = sum(each.shipped_base for each in sent)
    returned_base = sum(each.returned_base for each in sent)
    first = sent[0]
    return CustomerRow(
        customer=first.customer,
        customer_name=first.customer_name,
        item=first.item,
        name=first.name,
        shipped=first.unit.row(shipped_base),
        returned=first.unit.row(returned_base),
        destroyed=first.unit.row(destroyed_base),
        outstanding=first.unit.row(shipped_base - returned_base - destroyed_base),
    )


def _holds(recall: Recall) -> list[HoldRow]:
    """One statement."""
    found = RecallHold.objects.filter(recall=recall).select_related(
        "hold__lot", "hold__release__by"
    )
    rows = []
    for each in found:
        release = getattr(each.hold, "release", None)
        rows.append(
            HoldRow(
                hold=each.hold.code,
                lot=each.hold.lot.code,
                released_at=None if release is None else release.at,
                released_by=None if release is None else release.by.username,
                release_reason="" if release is None else release.reason,
            )
        )
    return rows


def _figures(recall: Recall) -> list[FigureRow]:
    """One statement."""
    rows = RecallFigure.objects.filter(recall=recall).select_related("item").order_by("pk")
    return [
        FigureRow(
            moment=figure.moment,
            balance=BalanceRow(
                item=figure.item.code,
                name=figure.item.name,
                **{
                    name: Unit(figure.item.dimension, figure.item.display_unit).row(
                        getattr(figure, f"{name}_base")
                    )
                    for name in FIGURES
                },
            ),
        )
        for figure in rows
    ]
