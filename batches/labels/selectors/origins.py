"""Where a lot came from before it was split: when it was made or received."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from django.db import connection
from django.db.models import Min

from inventory.stock.models import Lot, Movement, Posting, PostingKind
from inventory.stock.selectors.among import Among, each_id, parameter, within
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
    """Origin of each lot, that of the lot it was split from, by lot id.

    Three statements; none for no lots.
    """
    roots = _roots(lot_ids)
    if not roots:
        return {}
    firsts = dict(
        Movement.objects.filter(Among("lot", set(roots.values())))
        .order_by()
        .values_list("lot_id")
        .annotate(first=Min("posting_id"))
    )
    postings = {
        pk: Origin(WORDS.get(PostingKind(kind), OTHERWISE), shop_day(at))
        for pk, kind, at in Posting.objects.filter(Among("pk", set(firsts.values())))
        .order_by()
        .values_list("pk", "kind", "at")
    }
    return {lot_id: postings[firsts[root]] for lot_id, root in roots.items()}


def _roots(lot_ids: Iterable[int]) -> dict[int, int]:
    """The lot that each was split from first, by lot id."""
    ids = set(lot_ids)
    if not ids:
        return {}
    table = connection.ops.quote_name(Lot._meta.db_table)
    sql = f"""
        WITH RECURSIVE up (start, lot_id, parent_id) AS (
            SELECT id, id, parent_id FROM {table} WHERE id {within(each_id())}
            UNION ALL
            SELECT up.start, l.id, l.parent_id FROM up JOIN {table} l ON l.id = up.parent_id
        )
        SELECT start, lot_id FROM up WHERE parent_id IS NULL
    """  # noqa: S608 - our own table name
    with connection.cursor() as cursor:
        cursor.execute(sql, [parameter(ids)])
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
