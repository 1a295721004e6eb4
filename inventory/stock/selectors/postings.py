"""Reads of postings with their movements."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple

from django.db.models import QuerySet

from inventory.stock.models import Count, CountLine, Movement, Posting
from inventory.stock.selectors.amounts import AmountRow, amount_row
from shopfloor.codes.alphabet import Prefix, decode, encode
from shopfloor.errors import NotFoundError
from shopfloor.money import money_text


class MovementRow(NamedTuple):
    """One signed change to one lot."""

    lot: str
    item: str
    amount: AmountRow
    value: str


class PostingRow(NamedTuple):
    """One business event with its movements."""

    code: str
    kind: str
    at: datetime
    recorded_at: datetime
    by: str
    reason: str
    document_kind: str
    document_code: str
    outside_kind: str
    outside_value: str
    reverses: str | None
    reversed_by: str | None
    counted_in: str | None
    movements: list[MovementRow]


class CountLineRow(NamedTuple):
    """What was found of one lot."""

    lot: str
    item: str
    expected: AmountRow
    found: AmountRow
    difference: AmountRow
    value: str


class CountRow(NamedTuple):
    """One count, with the value of its differences."""

    code: str
    at: datetime
    by: str
    reason: str
    posting: str | None
    reversed_by: str | None
    value: str
    lines: list[CountLineRow]


def postings() -> QuerySet[Posting]:
    """All postings, newest first, to be filtered and paged."""
    return Posting.objects.select_related("by", "reversed_by", "count").order_by("-id")


def posting_rows(page: Iterable[Posting]) -> list[PostingRow]:
    """Rows of a page of `postings()`. One statement for all their movements."""
    page = list(page)
    moved: dict[int, list[MovementRow]] = {posting.pk: [] for posting in page}
    movements = Movement.objects.filter(posting__in=list(moved)).order_by("id")
    # As tuples: an object each of movement, lot and item takes most of the time of a long list.
    for posting_id, lot, item, qty_base, value_micro, dimension, unit in movements.values_list(
        "posting_id",
        "lot__code",
        "lot__item__code",
        "qty_base",
        "value_micro",
        "lot__item__dimension",
        "lot__item__display_unit",
    ):
        amount = amount_row(qty_base, dimension=dimension, unit=unit)
        moved[posting_id].append(MovementRow(lot, item, amount, money_text(value_micro)))
    return [_row(posting, moved[posting.pk]) for posting in page]


def posting_row(code: str) -> PostingRow:
    """One posting. Two statements.

    Raises:
        NotFoundError: no such posting.
        CodeTypoError: a slip in the code.
    """
    number = decode(code, Prefix.POSTING)[1]
    rows = posting_rows(postings().filter(pk=number))
    if not rows:
        raise NotFoundError("No posting has this code.", posting=code)
    return rows[0]


def _undone_by(posting: Posting | None) -> str | None:
    undone = getattr(posting, "reversed_by", None)
    return None if undone is None else str(undone)


def _row(posting: Posting, movements: list[MovementRow]) -> PostingRow:
    counted = getattr(posting, "count", None)
    return PostingRow(
        code=posting.code,
        kind=posting.kind,
        at=posting.at,
        recorded_at=posting.recorded_at,
        by=posting.by.username,
        reason=posting.reason,
        document_kind=posting.document_kind,
        document_code=posting.document_code,
        outside_kind=posting.outside_kind,
        outside_value=money_text(posting.outside_micro),
        reverses=None
        if posting.reverses_id is None
        else encode(posting.reverses_id, Prefix.POSTING),
        reversed_by=_undone_by(posting),
        counted_in=None if counted is None else counted.code,
        movements=movements,
    )


def counts() -> QuerySet[Count]:
    """All counts, newest first."""
    return Count.objects.select_related("by", "posting__reversed_by").order_by("-id")


def count_row(code: str) -> CountRow:
    """One count with its lines. Three statements; refusals as `count_of`."""
    return count_rows([count_of(code)])[0]


def count_of(code: str) -> Count:
    """The count with this code. One statement.

    Raises:
        NotFoundError: no such count.
        CodeTypoError: a slip in the code.
    """
    count = counts().filter(pk=decode(code, Prefix.COUNT)[1]).first()
    if count is None:
        raise NotFoundError("No count has this code.", count=code)
    return count


def count_rows(page: Iterable[Count]) -> list[CountRow]:
    """Rows of a page of `counts()`, with their lines. Two statements for all of them."""
    page = list(page)
    values = {
        (m.posting_id, m.lot_id): m.value_micro
        for m in Movement.objects.filter(posting__in=[c.posting_id for c in page if c.posting_id])
    }
    rows: dict[int, list[CountLineRow]] = {count.pk: [] for count in page}
    by_id = {count.pk: count for count in page}
    lines = (
        CountLine.objects.filter(count__in=list(rows)).select_related("lot__item").order_by("id")
    )
    for line in lines:
        item = line.lot.item

        def shown(
            qty_base: int, dimension: str = item.dimension, unit: str = item.display_unit
        ) -> AmountRow:
            return amount_row(qty_base, dimension=dimension, unit=unit)

        posting_id = by_id[line.count_id].posting_id
        rows[line.count_id].append(
            CountLineRow(
                lot=line.lot.code,
                item=item.code,
                expected=shown(line.expected_base),
                found=shown(line.found_base),
                difference=shown(line.found_base - line.expected_base),
                value=money_text(values.get((posting_id or 0, line.lot_id), 0)),
            )
        )
    return [
        CountRow(
            code=count.code,
            at=count.at,
            by=count.by.username,
            reason=count.reason,
            posting=None if count.posting is None else count.posting.code,
            reversed_by=_undone_by(count.posting),
            value=money_text(0 if count.posting is None else count.posting.outside_micro),
            lines=rows[count.pk],
        )
        for count in page
    ]
