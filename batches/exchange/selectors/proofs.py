"""Proofs of this floor: what batches, receipts, boxes and shipments say agrees with the ledger.

Every proof is two statements: how much was compared, and what is wrong with it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple

from django.db import connection
from django.db.models import Model

from batches.packing.models import Box, CustomerOrder, CustomerOrderLine, Shipment, ShipmentLine
from batches.runs.models import Batch, BatchEvent, Entry, EntryTally
from inventory.purchasing.models import Receipt, ReceiptLine, SupplierOrder, SupplierOrderLine
from inventory.stock.models import Count, CountLine, Lot, Movement, Posting
from inventory.stock.selectors.proofs import MOST_NAMED, Proof
from shopfloor.codes.alphabet import Prefix, encode

_TABLES: Final[dict[str, type[Model]]] = {
    "batch": Batch,
    "batch_event": BatchEvent,
    "box": Box,
    "count": Count,
    "count_line": CountLine,
    "customer_order": CustomerOrder,
    "customer_line": CustomerOrderLine,
    "entry": Entry,
    "lot": Lot,
    "movement": Movement,
    "posting": Posting,
    "receipt": Receipt,
    "receipt_line": ReceiptLine,
    "shipment": Shipment,
    "shipment_line": ShipmentLine,
    "supplier_order": SupplierOrder,
    "supplier_line": SupplierOrderLine,
    "tally": EntryTally,
}


class _Question(NamedTuple):
    """A proof.

    Attributes:
        title: What is compared.
        counted: The table whose rows are looked at.
        sql: Only what is wrong; `{lot}` and the like are tables.
        words: A line of it.
        prefix: Of the code that its first column is made to; None: it stands as it is.
    """

    title: str
    counted: str
    sql: str
    words: str
    prefix: Prefix | None = None


# A document's own lines against the movements of its posting, either side missing being a
# difference as well. {sign} is +1 for what came in and -1 for what went out. CROSS JOIN: SQLite,
# never analyzed, would begin with all movements; PostgreSQL plans it as JOIN.
_LINES_EQUAL_MOVEMENTS: Final = """
    SELECT d.posting_id, l.code, COALESCE(SUM(s.said), 0), COALESCE(SUM(s.moved), 0) FROM (
        SELECT {document}_id AS posting_id, lot_id, qty_base AS said, 0 AS moved FROM {lines}
        UNION ALL
        SELECT m.posting_id, m.lot_id, 0, {sign} * m.qty_base
        FROM {documents} x CROSS JOIN {{movement}} m WHERE m.posting_id = x.posting_id
    ) s JOIN {documents} d ON d.posting_id = s.posting_id JOIN {{lot}} l ON l.id = s.lot_id
    GROUP BY d.posting_id, l.code HAVING SUM(s.said) <> SUM(s.moved)
"""
_ORDER_ENDS_WITH_ITS_LINES: Final = """
    SELECT o.code, o.state, COUNT(l.id) FROM {orders} o
    LEFT JOIN {lines} l ON l.order_id = o.id AND NOT l.is_closed
    GROUP BY o.code, o.state HAVING (o.state = 'open') <> (COUNT(l.id) > 0)
"""

QUESTIONS: Final = (
    _Question(
        title="Good and scrapped pieces of each entry are those of its tallies",
        counted="entry",
        sql="""
            SELECT e.posting_id, e.good_base, COALESCE(s.good, 0), e.scrapped_base,
                   COALESCE(s.scrapped, 0)
            FROM {entry} e LEFT JOIN (
                SELECT entry_id,
                       SUM(CASE WHEN grade <> '' THEN qty_base ELSE 0 END) AS good,
                       SUM(CASE WHEN grade = '' THEN qty_base ELSE 0 END) AS scrapped
                FROM {tally} GROUP BY entry_id
            ) s ON s.entry_id = e.posting_id
            WHERE e.good_base <> COALESCE(s.good, 0) OR e.scrapped_base <> COALESCE(s.scrapped, 0)
        """,
        words="entry {0}: good {1}, its tallies {2}; scrapped {3}, its tallies {4}",
        prefix=Prefix.ENTRY,
    ),
    _Question(
        title="The lots that each entry made hold its good pieces, grade by grade",
        counted="entry",
        sql="""
            SELECT s.posting_id, s.grade, SUM(s.said), SUM(s.made) FROM (
                SELECT entry_id AS posting_id, grade, qty_base AS said, 0 AS made
                FROM {tally} WHERE grade <> ''
                UNION ALL
                SELECT e.posting_id, l.grade, 0, m.qty_base
                FROM {entry} e CROSS JOIN {movement} m CROSS JOIN {lot} l CROSS JOIN {batch} b
                WHERE m.posting_id = e.posting_id AND m.qty_base > 0 AND l.id = m.lot_id
                  AND b.id = e.batch_id AND b.item_id = l.item_id
            ) s GROUP BY s.posting_id, s.grade HAVING SUM(s.said) <> SUM(s.made)
        """,
        words="entry {0}, grade {1}: good {2}, its lots {3}",
        prefix=Prefix.ENTRY,
    ),
    _Question(
        title="Each batch is in the state that its last event says",
        counted="batch",
        sql="""
            SELECT b.code, b.state, COALESCE(e.after, 'planned') FROM {batch} b
            LEFT JOIN {batch_event} e ON e.id = (
                SELECT MAX(x.id) FROM {batch_event} x WHERE x.batch_id = b.id
            ) WHERE b.state <> COALESCE(e.after, 'planned')
        """,
        words="batch {0}: is {1}, its last event says {2}",
    ),
    _Question(
        title="The lines of each receipt are what its posting moved",
        counted="receipt_line",
        sql=_LINES_EQUAL_MOVEMENTS.format(
            document="receipt", documents="{receipt}", lines="{receipt_line}", sign=1
        ),
        words="receipt {0}, lot {1}: its line {2}, its movement {3}",
        prefix=Prefix.RECEIPT,
    ),
    _Question(
        title="The lines of each shipment are what its posting moved",
        counted="shipment_line",
        sql=_LINES_EQUAL_MOVEMENTS.format(
            document="shipment", documents="{shipment}", lines="{shipment_line}", sign=-1
        ),
        words="shipment {0}, lot {1}: its line {2}, its movement {3}",
        prefix=Prefix.SHIPMENT,
    ),
    _Question(
        title="The lines of each count differ from the books by what its posting moved",
        counted="count_line",
        sql="""
            SELECT c.id, l.code, n.found_base - n.expected_base, COALESCE(m.qty_base, 0)
            FROM {count_line} n JOIN {count} c ON c.id = n.count_id JOIN {lot} l ON l.id = n.lot_id
            LEFT JOIN {movement} m ON m.posting_id = c.posting_id AND m.lot_id = n.lot_id
            WHERE n.found_base - n.expected_base <> COALESCE(m.qty_base, 0)
        """,
        words="count {0}, lot {1}: differs by {2}, its movement {3}",
        prefix=Prefix.COUNT,
    ),
    _Question(
        title="A box that was shipped is empty, and one that was not stands in no shipment",
        counted="box",
        sql="""
            SELECT b.code, b.state, 'holds lot ' || l.code
            FROM {box} b JOIN {lot} l ON l.place_id = b.place_id
            WHERE b.state = 'shipped' AND l.on_hand_base > 0
            UNION ALL
            SELECT DISTINCT b.code, b.state, 'stands in a shipment'
            FROM {box} b JOIN {shipment_line} s ON s.box_id = b.id
            WHERE b.state <> 'shipped' AND NOT EXISTS (
                SELECT 1 FROM {posting} r WHERE r.reverses_id = s.shipment_id
            )
        """,
        words="box {0}: is {1}, and {2}",
    ),
    _Question(
        title="A box in a box went with it, and none in a closed one is open",
        counted="box",
        sql="""
            SELECT b.code, b.state, p.code, p.state FROM {box} b JOIN {box} p ON p.id = b.parent_id
            WHERE (p.state = 'shipped' AND b.state <> 'shipped')
               OR (p.state <> 'shipped' AND b.state = 'shipped')
               OR (p.state = 'closed' AND b.state = 'open')
        """,
        words="box {0}: is {1}, and {2}, in which it stands, is {3}",
    ),
    _Question(
        title="A supplier order is open as long as a line of it is",
        counted="supplier_order",
        sql=_ORDER_ENDS_WITH_ITS_LINES.format(orders="{supplier_order}", lines="{supplier_line}"),
        words="supplier order {0}: is {1}, with {2} open lines",
    ),
    _Question(
        title="A customer order is open as long as a line of it is",
        counted="customer_order",
        sql=_ORDER_ENDS_WITH_ITS_LINES.format(orders="{customer_order}", lines="{customer_line}"),
        words="customer order {0}: is {1}, with {2} open lines",
    ),
)


def floor_proofs() -> Iterator[Proof]:
    """Prove the floor, one proof after the other. Two statements a proof."""
    quote = connection.ops.quote_name
    tables = {name: quote(model._meta.db_table) for name, model in _TABLES.items()}
    for question in QUESTIONS:
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT COUNT(*) FROM {tables[question.counted]}")  # noqa: S608 - ours
            counted = cursor.fetchone()
            assert counted is not None
            cursor.execute(question.sql.format(**tables))
            rows = cursor.fetchall()
        differences = [_line(question, row) for row in rows[:MOST_NAMED]]
        if more := len(rows) - len(differences):
            differences.append(f"and {more} more")
        yield Proof(question.title, int(counted[0]), differences)


def _line(question: _Question, row: tuple[object, ...]) -> str:
    first, *rest = row
    if question.prefix is not None:
        first = encode(int(str(first)), question.prefix)
    return question.words.format(first, *rest)
