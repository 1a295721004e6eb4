"""Reads for who keeps the books: the postings of a period line by line, and the stock of a day.

A period is of shop's days by business time. A closed one stays as it is: nothing is posted into it,
and a reversal is dated when it is made.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import Any, NamedTuple

from django.db.models import Count, F, Q, Sum

from inventory.stock.models import BooksClosing, Movement, OutsideKind, Posting
from inventory.stock.selectors.amounts import AmountRow, amount_row
from shopfloor.codes.alphabet import Prefix, encode
from shopfloor.days import day_start
from shopfloor.money import money_text


class Period(NamedTuple):
    """Shop's days, the first and the last among them."""

    first: date
    last: date

    @property
    def start(self) -> datetime:
        """Its first moment."""
        return day_start(self.first)

    @property
    def end(self) -> datetime:
        """The first moment after it."""
        return after(self.last)


class OutsideRow(NamedTuple):
    """What came from or went outside in one way: what was posted, and what reversals undid."""

    outside_kind: str
    postings: int
    posted: str
    undone: str
    value: str


class BooksHead(NamedTuple):
    """Stock value before and after a period, and what made the difference."""

    closed_through: date | None
    opening_value: str
    outside: list[OutsideRow]
    closing_value: str


class BookLine(NamedTuple):
    """One movement of the period with its posting."""

    at: datetime
    recorded_at: datetime
    posting: str
    kind: str
    document_kind: str
    document_code: str
    outside_kind: str
    reverses: str | None
    reversed_by: str | None
    by: str
    reason: str
    lot: str
    item: str
    item_name: str
    amount: AmountRow
    value: str


class StockRow(NamedTuple):
    """What we held of one item, and its value."""

    item: str
    item_name: str
    kind: str
    on_hand: AmountRow
    value: str


def after(day: date) -> datetime:
    """The first moment after a shop's day."""
    return day_start(day + timedelta(days=1))


def books_head(period: Period) -> BooksHead:
    """Opening value, sums and closing value of a period. Four statements.

    The values of a posting's movements add up to its outside value, so those of all postings before
    a moment add up to the stock value at that moment; `verify` proves the first.
    """
    closing = BooksClosing.objects.order_by("-through").first()
    return BooksHead(
        closed_through=None if closing is None else closing.through,
        opening_value=money_text(_value_before(period.start)),
        outside=_outside(period),
        closing_value=money_text(_value_before(period.end)),
    )


def _value_before(moment: datetime) -> int:
    found = Posting.objects.filter(at__lt=moment).aggregate(value=Sum("outside_micro"))
    return int(found["value"] or 0)


def _outside(period: Period) -> list[OutsideRow]:
    found = {
        row["outside_kind"]: row
        for row in Posting.objects.filter(at__gte=period.start, at__lt=period.end)
        .values("outside_kind")
        .annotate(
            postings=Count("pk"),
            posted=Sum("outside_micro", filter=Q(reverses__isnull=True), default=0),
            undone=Sum("outside_micro", filter=Q(reverses__isnull=False), default=0),
        )
        .order_by()
    }
    nothing = {"postings": 0, "posted": 0, "undone": 0}
    rows = [(kind, found.get(kind, nothing)) for kind in OutsideKind if kind != OutsideKind.NONE]
    return [
        OutsideRow(
            outside_kind=str(kind),
            postings=row["postings"],
            posted=money_text(int(row["posted"])),
            undone=money_text(int(row["undone"])),
            value=money_text(int(row["posted"]) + int(row["undone"])),
        )
        for kind, row in rows
    ]


_LINE_COLUMNS = (
    "posting__at",
    "posting__recorded_at",
    "posting_id",
    "posting__kind",
    "posting__document_kind",
    "posting__document_code",
    "posting__outside_kind",
    "posting__reverses_id",
    "posting__reversed_by__id",
    "posting__by__username",
    "posting__reason",
    "lot__code",
    "lot__item__code",
    "lot__item__name",
    "qty_base",
    "value_micro",
    "lot__item__dimension",
    "lot__item__display_unit",
)


def book_lines(period: Period) -> Any:
    """Movements of a period in the order they happened, to be paged; `line_rows` makes rows."""
    return (
        Movement.objects.filter(posting__at__gte=period.start, posting__at__lt=period.end)
        .order_by("posting__at", "posting_id", "id")
        .values_list(*_LINE_COLUMNS)
    )


def line_rows(page: Iterable[Sequence[Any]]) -> list[BookLine]:
    """Rows of a page of `book_lines`. No query."""
    return [_line(*columns) for columns in page]


def _line(*columns: Any) -> BookLine:
    at, recorded_at, posting, kind, document_kind, document_code, outside_kind = columns[:7]
    reverses, reversed_by, by, reason, lot, item, item_name = columns[7:14]
    qty_base, value_micro, dimension, unit = columns[14:]
    return BookLine(
        at=at,
        recorded_at=recorded_at,
        posting=encode(posting, Prefix.POSTING),
        kind=kind,
        document_kind=document_kind,
        document_code=document_code,
        outside_kind=outside_kind,
        reverses=None if reverses is None else encode(reverses, Prefix.POSTING),
        reversed_by=None if reversed_by is None else encode(reversed_by, Prefix.POSTING),
        by=by,
        reason=reason,
        lot=lot,
        item=item,
        item_name=item_name,
        amount=amount_row(qty_base, dimension=dimension, unit=unit),
        value=money_text(value_micro),
    )


def stock_on(day: date) -> Any:
    """What we held and what it was worth at the end of a day, by item, to be paged."""
    return (
        Movement.objects.filter(posting__at__lt=after(day), lot__owner="")
        .values(
            code=F("lot__item__code"),
            name=F("lot__item__name"),
            kind=F("lot__item__kind"),
            dimension=F("lot__item__dimension"),
            unit=F("lot__item__display_unit"),
        )
        .annotate(qty=Sum("qty_base"), value=Sum("value_micro"))
        .exclude(qty=0, value=0)
        .order_by("code")
    )


def stock_rows(page: Iterable[dict[str, Any]]) -> list[StockRow]:
    """Rows of a page of `stock_on`. No query."""
    return [
        StockRow(
            item=row["code"],
            item_name=row["name"],
            kind=row["kind"],
            on_hand=amount_row(int(row["qty"]), dimension=row["dimension"], unit=row["unit"]),
            value=money_text(int(row["value"])),
        )
        for row in page
    ]
