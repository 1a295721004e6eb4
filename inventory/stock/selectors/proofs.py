"""Proofs of the ledger: every truth that can be recomputed is, and each difference is named.

Every proof is one statement that returns only what is wrong, so that a ledger of millions needs no
memory here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from django.db import OperationalError, connection
from django.db.backends.utils import CursorWrapper
from django.db.models import Model

from inventory.catalog.models import Place
from inventory.stock.models import (
    FLOWING_KINDS,
    HeldLot,
    Hold,
    HoldRelease,
    Lot,
    LotEvent,
    Movement,
    Posting,
)
from inventory.stock.selectors.among import within
from shopfloor.append_only import expected_triggers, missing_triggers
from shopfloor.models import RequestKey

MOST_NAMED = 100  # differences named in one proof; the rest is counted


@dataclass(frozen=True, slots=True)
class Proof:
    """What was compared, how much of it, and what disagreed.

    Attributes:
        title: What was compared, in words.
        compared: How many things were looked at.
        differences: What disagrees, a line each; at most `MOST_NAMED` and a line that counts
            the rest.
    """

    title: str
    compared: int
    differences: list[str]


@dataclass(frozen=True, slots=True)
class _Question:
    title: str
    counted: str
    sql: str
    words: str


# In each statement {lot}, {movement} ... are table names, and the first column is an id to name.
# CROSS JOIN: SQLite, never analyzed, would begin with all movements; PostgreSQL plans it as JOIN.
QUESTIONS = (
    _Question(
        title="On hand and value of each lot equal the sum of its movements",
        counted="SELECT COUNT(*) FROM {lot}",
        sql="""
            SELECT l.code, l.on_hand_base, COALESCE(SUM(m.qty_base), 0),
                   l.value_micro, COALESCE(SUM(m.value_micro), 0)
            FROM {lot} l LEFT JOIN {movement} m ON m.lot_id = l.id GROUP BY l.id
            HAVING l.on_hand_base <> COALESCE(SUM(m.qty_base), 0)
                OR l.value_micro <> COALESCE(SUM(m.value_micro), 0)
        """,
        words="lot {0}: on hand {1}, its movements {2}; value {3}, its movements {4}",
    ),
    _Question(
        title="The values of each posting add up to what came from or went outside",
        counted="SELECT COUNT(*) FROM {posting}",
        sql="""
            SELECT p.id, p.outside_micro, COALESCE(SUM(m.value_micro), 0)
            FROM {posting} p LEFT JOIN {movement} m ON m.posting_id = p.id GROUP BY p.id
            HAVING p.outside_micro <> COALESCE(SUM(m.value_micro), 0) OR COUNT(m.posting_id) = 0
        """,
        words="posting {0}: outside {1}, its movements {2}",
    ),
    _Question(
        title="No lot holds or is worth less than nothing, and an emptied one is worth nothing",
        counted="SELECT COUNT(*) FROM {lot}",
        sql="""
            SELECT code, on_hand_base, value_micro FROM {lot}
            WHERE on_hand_base < 0 OR value_micro < 0 OR (on_hand_base = 0 AND value_micro <> 0)
               OR (owner <> '' AND value_micro <> 0)
        """,
        words="lot {0}: on hand {1}, value {2}",
    ),
    # Only doubtful lots are followed through time. One that gained once, in its first posting,
    # loses ever after, so it is lowest at its end; unless something was taken of it by a posting
    # dated before that first one, and such a posting is dated before one written down earlier.
    _Question(
        title="No lot was below nothing at any time, by business time",
        counted="SELECT COUNT(*) FROM {movement}",
        sql="""
            WITH late AS MATERIALIZED (
                SELECT id FROM (
                    SELECT id, at, MAX(at) OVER (ORDER BY id) AS latest FROM {posting}
                ) so_far WHERE at < latest
            ), doubtful AS MATERIALIZED (
                SELECT s.lot_id FROM (
                    SELECT lot_id, SUM(qty_base) AS qty, MIN(posting_id) AS first_id,
                           MIN(CASE WHEN qty_base > 0 THEN posting_id END) AS first_gain_id,
                           COUNT(CASE WHEN qty_base > 0 THEN 1 END) AS gains
                    FROM {movement} GROUP BY lot_id
                ) s JOIN {lot} l ON l.id = s.lot_id JOIN {posting} p ON p.id = s.first_id
                WHERE s.gains <> 1 OR s.first_id <> s.first_gain_id OR s.qty < 0
                   OR p.at <> l.born_at
                UNION
                SELECT m.lot_id FROM {movement} m
                JOIN {posting} p ON p.id = m.posting_id JOIN {lot} l ON l.id = m.lot_id
                WHERE m.posting_id {among_late} AND m.qty_base < 0 AND p.at < l.born_at
            )
            SELECT l.code, MIN(line.balance) FROM (
                SELECT m.lot_id,
                       SUM(m.qty_base) OVER (PARTITION BY m.lot_id ORDER BY p.at, p.id) AS balance
                FROM {movement} m JOIN {posting} p ON p.id = m.posting_id
                WHERE m.lot_id {among_doubtful} AND p.kind <> 'reversed'
                  AND NOT EXISTS (SELECT 1 FROM {posting} r WHERE r.reverses_id = p.id)
            ) line JOIN {lot} l ON l.id = line.lot_id
            WHERE line.balance < 0 GROUP BY l.code
        """,
        words="lot {0}: as low as {1}",
    ),
    _Question(
        title="Each reversal is the mirror of what it reverses",
        counted="SELECT COUNT(*) FROM {posting} WHERE reverses_id IS NOT NULL",
        sql="""
            SELECT DISTINCT s.id, s.reverses_id FROM (
                SELECT r.id, r.reverses_id, m.lot_id, m.qty_base, m.value_micro
                FROM {posting} r CROSS JOIN {movement} m
                WHERE r.reverses_id IS NOT NULL AND m.posting_id = r.id
                UNION ALL
                SELECT r.id, r.reverses_id, m.lot_id, m.qty_base, m.value_micro
                FROM {posting} r CROSS JOIN {movement} m
                WHERE r.reverses_id IS NOT NULL AND m.posting_id = r.reverses_id
            ) s GROUP BY s.id, s.reverses_id, s.lot_id
            HAVING SUM(s.qty_base) <> 0 OR SUM(s.value_micro) <> 0
        """,
        words="posting {0} does not mirror posting {1}",
    ),
    _Question(
        title="What flows into a lot stood before it, so no lot is made of itself",
        counted="SELECT COUNT(*) FROM {posting} WHERE kind IN ({flowing})",
        sql="""
            SELECT posting_id, last_taken, first_made FROM (
                SELECT posting_id,
                       MAX(CASE WHEN qty_base < 0 THEN lot_id END) AS last_taken,
                       MIN(CASE WHEN qty_base > 0 THEN lot_id END) AS first_made
                FROM {movement} GROUP BY posting_id
            ) sides JOIN {posting} p ON p.id = sides.posting_id
            WHERE last_taken >= first_made AND p.kind IN ({flowing})
        """,
        words="posting {0}: took lot number {1}, made lot number {2}",
    ),
    _Question(
        title="The disposition of each lot is what its last event says",
        counted="SELECT COUNT(*) FROM {event} WHERE kind = 'disposition'",
        sql="""
            SELECT l.code, l.disposition, e.after FROM {lot} l JOIN {event} e ON e.id = (
                SELECT MAX(x.id) FROM {event} x WHERE x.lot_id = l.id AND x.kind = 'disposition'
            ) WHERE e.after <> l.disposition
        """,
        words="lot {0}: is {1}, its last event says {2}",
    ),
    _Question(
        title="A lot under an open hold is held or rejected, and a held lot is under an open hold",
        counted="SELECT COUNT(*) FROM {held}",
        sql="""
            SELECT l.code, l.disposition FROM {lot} l WHERE
                (l.disposition = 'held') <> EXISTS (
                    SELECT 1 FROM {held} h WHERE h.lot_id = l.id
                    AND NOT EXISTS (SELECT 1 FROM {release} r WHERE r.hold_id = h.hold_id)
                ) AND l.disposition <> 'rejected'
        """,
        words="lot {0} is {1}, which its holds do not say",
    ),
    _Question(
        title="All that is left of what an open hold flowed into is under that hold",
        counted="SELECT COUNT(*) FROM {hold}",
        sql="""
            WITH RECURSIVE reached (hold_id, lot_id) AS (
                SELECT h.id, h.lot_id FROM {hold} h
                WHERE NOT EXISTS (SELECT 1 FROM {release} r WHERE r.hold_id = h.id)
                UNION
                SELECT reached.hold_id, made.lot_id
                FROM reached CROSS JOIN {movement} taken CROSS JOIN {posting} p
                    CROSS JOIN {movement} made
                WHERE taken.lot_id = reached.lot_id AND taken.qty_base < 0
                  AND p.id = taken.posting_id AND p.kind IN ({flowing})
                  AND NOT EXISTS (SELECT 1 FROM {posting} r WHERE r.reverses_id = p.id)
                  AND made.posting_id = p.id AND made.qty_base > 0
            )
            SELECT l.code, reached.hold_id FROM reached JOIN {lot} l ON l.id = reached.lot_id
            WHERE l.on_hand_base > 0 AND NOT EXISTS (
                SELECT 1 FROM {held} x WHERE x.hold_id = reached.hold_id AND x.lot_id = l.id
            )
        """,
        words="lot {0} came out of what hold number {1} stops, and is not under it",
    ),
    _Question(
        title="The place of each lot is where its last event put it",
        counted="SELECT COUNT(*) FROM {event} WHERE kind = 'place'",
        sql="""
            SELECT l.code, p.code, e.after FROM {lot} l JOIN {place} p ON p.id = l.place_id
            JOIN {event} e ON e.id = (
                SELECT MAX(x.id) FROM {event} x WHERE x.lot_id = l.id AND x.kind = 'place'
            ) WHERE e.after <> p.code
        """,
        words="lot {0}: stands at {1}, its last event says {2}",
    ),
    _Question(
        title="Every request that was carried out has its answer",
        counted="SELECT COUNT(*) FROM {key}",
        sql="SELECT id FROM {key} WHERE status IS NULL",
        words="request number {0} has no answer",
    ),
)


# In halves of 32 bits: SQLite refuses to add up beyond 64, and ten thousand lots may be worth more.
_HALF: Final = 2**32
_TOTAL: Final = (
    "SELECT COUNT(*), COALESCE(SUM({column} / {half}), 0), COALESCE(SUM({column} % {half}), 0)"
    " FROM {table}"
)


def ledger_proofs() -> Iterator[Proof]:
    """Prove the ledger, one proof after the other.

    Two statements a proof, plus one for the triggers.
    """
    for question in QUESTIONS:
        yield _proof(question)
    yield _whole()
    yield Proof(
        title="Every append-only table is guarded by its triggers",
        compared=len(expected_triggers(connection.vendor)),
        differences=[f"trigger {name} is missing or switched off" for name in missing_triggers()],
    )


def _proof(question: _Question) -> Proof:
    quote = connection.ops.quote_name
    names = {
        "lot": quote(Lot._meta.db_table),
        "movement": quote(Movement._meta.db_table),
        "posting": quote(Posting._meta.db_table),
        "event": quote(LotEvent._meta.db_table),
        "held": quote(HeldLot._meta.db_table),
        "hold": quote(Hold._meta.db_table),
        "release": quote(HoldRelease._meta.db_table),
        "place": quote(Place._meta.db_table),
        "key": quote(RequestKey._meta.db_table),
        "flowing": ", ".join(f"'{kind}'" for kind in FLOWING_KINDS),
        "among_late": within("SELECT id FROM late"),
        "among_doubtful": within("SELECT lot_id FROM doubtful"),
    }
    with connection.cursor() as cursor:
        cursor.execute(question.counted.format(**names))
        counted = cursor.fetchone()
        assert counted is not None
        differences = _differences(cursor, question.sql.format(**names), question.words)
    return Proof(title=question.title, compared=int(counted[0]), differences=differences)


def _differences(cursor: CursorWrapper, sql: str, words: str) -> list[str]:
    try:
        cursor.execute(sql)
        rows = cursor.fetchmany(MOST_NAMED)
        more = len(cursor.fetchall())
    except OperationalError as error:
        if "integer overflow" not in str(error):
            raise
        return ["an amount or value is so far off that its sum is beyond 64 bits"]
    differences = [words.format(*row) for row in rows]
    return [*differences, f"and {more} more"] if more else differences


def _whole() -> Proof:
    _, outside = _total(Posting, "outside_micro")
    lots, value = _total(Lot, "value_micro")
    return Proof(
        title="All that ever came from outside is on the shelves now",
        compared=lots,
        differences=(
            [f"the whole: outside {outside}, on the shelves {value}"] if outside != value else []
        ),
    )


def _total(model: type[Model], column: str) -> tuple[int, int]:
    """How many rows, and the sum of a column, however large."""
    with connection.cursor() as cursor:
        table = connection.ops.quote_name(model._meta.db_table)
        cursor.execute(_TOTAL.format(column=column, half=_HALF, table=table))
        row = cursor.fetchone()
    assert row is not None
    count, high, low = map(int, row)
    return count, high * _HALF + low
