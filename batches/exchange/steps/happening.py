"""What happened, in the order of its time: each thing leans on what stood before it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Final, NamedTuple

from batches.exchange.rules.reading import Row
from batches.exchange.steps.finding import post_check, post_complaint
from batches.exchange.steps.lots import post_lot_event, post_receipt
from batches.exchange.steps.packing import post_box, post_shipment
from batches.exchange.steps.returning import post_return
from batches.exchange.steps.rowing import Importing, documents
from batches.exchange.steps.runs import Floor, post_run
from batches.packing.models import Box
from batches.quality.models import Check
from batches.runs.models import Batch, Entry
from inventory.catalog.models import Place
from inventory.stock.models import HeldLot, Lot, LotEvent, Movement, Posting
from shopfloor.days import day_end
from shopfloor.statistics import look_over

LOOK_FIRST: Final = 64
GROWING: Final = tuple(
    model._meta.db_table
    for model in (Lot, LotEvent, Posting, Movement, HeldLot, Place, Batch, Entry, Check, Box)
)
"""Tables that an import fills while it asks them."""


class _Happening(NamedTuple):
    """Rows that are posted together."""

    at: datetime
    rows: Sequence[Row]
    post: Callable[[Sequence[Row], Importing], None]


def post_happenings(importing: Importing) -> None:
    """Deliveries, lot events, runs, checks, boxes, shipments, complaints, returns, merged by time.

    A complaint is of what had left by the end of its day.
    At one and the same time, in that order of the sheets, and in a sheet from top to bottom.
    """
    sheets, floor = importing.sheets.rows, Floor()
    floor.take_in(sheets["runs"])

    def run(rows: Sequence[Row], importing: Importing) -> None:
        post_run(rows[0], floor, importing)

    deliveries = documents(sheets["receipts"])
    found = [_Happening(rows[0]["at"], rows, post_receipt) for rows in deliveries]
    found += [_Happening(row["at"], [row], post_lot_event) for row in sheets["lot_events"]]
    found += [_Happening(row["at"], [row], run) for row in sheets["runs"]]
    found += [_Happening(row["at"], [row], post_check) for row in sheets["checks"]]
    found += [_Happening(rows[0]["at"], rows, post_box) for rows in documents(sheets["boxes"])]
    found += [
        _Happening(rows[0]["at"], rows, post_shipment) for rows in documents(sheets["shipments"])
    ]
    found += [
        _Happening(day_end(row["told_on"]), [row], post_complaint) for row in sheets["complaints"]
    ]
    found += [_Happening(row["at"], [row], post_return) for row in sheets["returns"]]
    look_at = LOOK_FIRST
    for done, happening in enumerate(sorted(found, key=lambda happening: happening.at), 1):
        happening.post(happening.rows, importing)
        importing.on_rows(len(happening.rows))
        if done == look_at:
            look_over(GROWING)
            look_at *= 2
    look_over(GROWING)
