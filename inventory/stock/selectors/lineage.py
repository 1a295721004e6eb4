"""Genealogy, read from the ledger itself: which lots flowed into which.

In a posting of a flowing kind that was not reversed, every lot taken flows into every lot made.
There is no second
table that could disagree.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import connection

from inventory.stock.models import FLOWING_KINDS, Lot, Movement, Posting

# CROSS JOIN keeps SQLite from reordering the walk (it would scan the movements); to PostgreSQL
# it is a plain join.
WALK = """
    WITH RECURSIVE reached (lot_id) AS (
        SELECT id FROM {lot} WHERE id IN ({marks})
        UNION
        SELECT onward.lot_id
        FROM reached CROSS JOIN {movement} here CROSS JOIN {posting} p CROSS JOIN {movement} onward
        WHERE here.lot_id = reached.lot_id AND here.qty_base {here} 0
          AND p.id = here.posting_id AND p.kind IN ({kinds})
          AND NOT EXISTS (SELECT 1 FROM {posting} r WHERE r.reverses_id = p.id)
          AND onward.posting_id = p.id AND onward.qty_base {onward} 0
    )
    SELECT lot_id FROM reached
"""


@dataclass(frozen=True, slots=True)
class Edge:
    """One side of a flow.

    A lot's amount in a posting; negative is taken, positive is made. Base units.
    """

    posting_id: int
    lot_id: int
    qty_base: int


def downstream_ids(lot_ids: Iterable[int]) -> set[int]:
    """The lots and all they flowed into. One statement."""
    return _walk(lot_ids, here="<", onward=">")


def upstream_ids(lot_ids: Iterable[int]) -> set[int]:
    """The lots and all that flowed into them. One statement."""
    return _walk(lot_ids, here=">", onward="<")


def _walk(lot_ids: Iterable[int], *, here: str, onward: str) -> set[int]:
    ids = list(lot_ids)
    if not ids:
        return set()
    quote = connection.ops.quote_name
    sql = WALK.format(  # our own table and kind names
        lot=quote(Lot._meta.db_table),
        movement=quote(Movement._meta.db_table),
        posting=quote(Posting._meta.db_table),
        marks=", ".join(["%s"] * len(ids)),
        kinds=", ".join(f"'{kind}'" for kind in FLOWING_KINDS),
        here=here,
        onward=onward,
    )
    with connection.cursor() as cursor:
        cursor.execute(sql, ids)
        return {int(row[0]) for row in cursor.fetchall()}


def flows_among(lot_ids: Iterable[int]) -> list[Edge]:
    """What these lots gave and got in flowing postings, by posting then lot. One statement."""
    ids = list(lot_ids)
    rows = (
        Movement.objects.filter(
            lot__in=ids,
            posting__kind__in=FLOWING_KINDS,
            posting__reversed_by__isnull=True,
        )
        .order_by("posting_id", "lot_id")
        .values_list("posting_id", "lot_id", "qty_base")
    )
    return [Edge(posting, lot, qty) for posting, lot, qty in rows if qty]
