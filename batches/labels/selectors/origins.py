"""Where a lot came from before it was split: when it was made or received."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from django.db import connection
from django.db.models import Min

from inventory.stock.models import Lot, Movement, Posting, PostingKind
from shopfloor.days import shop_day

WORDS = {
    PostingKind.RECEIVED: "Received",
    PostingKind.MADE: "Made",
    PostingKind.MIXED: "Mixed",
}
OTHERWISE = "On hand since"


class Origin(NamedTuple):
    """How a lot came to be, in a word, and the shop's day it did."""

    word: str
    on: date


def origins(lot_ids: Iterable[int]) -> dict[int, Origin]:
    """Origin of each lot, that of the lot it was split from, by lot id. Three statements."""
    roots = _roots(list(lot_ids))
    firsts = dict(
        Movement.objects.filter(lot__in=set(roots.values()))
        .order_by()
        .values_list("lot_id")
        .annotate(first=Min("posting_id"))
    )
    postings = Posting.objects.in_bulk(firsts.values())
    found = {}
    for lot_id, root in roots.items():
        posting = postings[firsts[root]]
        word = WORDS.get(PostingKind(posting.kind), OTHERWISE)
        found[lot_id] = Origin(word, shop_day(posting.at))
    return found


def _roots(lot_ids: list[int]) -> dict[int, int]:
    """The lot that each was split from first, by lot id."""
    if not lot_ids:
        return {}
    table = connection.ops.quote_name(Lot._meta.db_table)
    marks = ", ".join(["%s"] * len(lot_ids))
    sql = f"""
        WITH RECURSIVE up (start, lot_id, parent_id) AS (
            SELECT id, id, parent_id FROM {table} WHERE id IN ({marks})
            UNION ALL
            SELECT up.start, l.id, l.parent_id FROM up JOIN {table} l ON l.id = up.parent_id
        )
        SELECT start, lot_id FROM up WHERE parent_id IS NULL
    """  # noqa: S608 - our own table name
    with connection.cursor() as cursor:
        cursor.execute(sql, lot_ids)
        return {int(start): int(root) for start, root in cursor.fetchall()}


def dates_text(found: Iterable[Origin]) -> str:
    """`Made 2026-03-01 to 2026-03-04`, a span for each word there is."""
    spans: dict[str, list[date]] = {}
    for word, on in sorted(found):
        spans.setdefault(word, []).append(on)
    return "; ".join(
        f"{word} {days[0]}" if days[0] == days[-1] else f"{word} {days[0]} to {days[-1]}"
        for word, days in spans.items()
    )
