"""The two questions: what went into a lot, batch or box, and where did it go."""

from __future__ import annotations

from dataclasses import dataclass

from batches.trace.selectors.became import total_rows, where_rows, whereabouts
from batches.trace.selectors.rows import BatchRow, Downstream, EdgeRow, Upstream
from batches.trace.selectors.starts import Start, start_of_batch, start_of_box, start_of_lot
from batches.trace.selectors.walking import Walk, batch_rows, edge_rows, node_rows, walk
from batches.trace.selectors.whereabouts import (
    account_rows,
    box_rows,
    on_hand_rows,
    receipt_rows,
    returned_amounts,
    scrapped_pieces,
    scrapped_rows,
    shipment_rows,
    shipped_lots,
)
from inventory.stock.selectors.lineage import Direction
from shopfloor.snapshot import snapshot

DEPTH_MAX = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is traced; exactly one of the first three.

    Attributes:
        item: Show only the lots of this item, and the start.
        depth: Go no further than so many flows, 1 to `DEPTH_MAX`.
        fold: "entries" or "batches": only the edges, or only the batches; empty for both.
    """

    lot: str = ""
    batch: str = ""
    box: str = ""
    item: str | None = None
    depth: int | None = None
    fold: str = ""


@snapshot()
def downstream(question: Question) -> Downstream:
    """Where it went, all of it as of one moment.

    Eight statements; an item adds one or two.

    Raises:
        NotFoundError, CodeTypoError, WrongKindOfCodeError, NothingToTraceError: as of the start.
        TraceTooLargeError: more than anybody reads.
    """
    start = start_of(question, upstream=False)
    found = walk(start, Direction.DOWNSTREAM, depth_max=question.depth, item_code=question.item)
    edges, batches = _folded(found, question.fold)
    shipped = shipped_lots(found.nodes)
    returned = returned_amounts(shipped)
    scrapped = scrapped_pieces(found)
    became = whereabouts(found, shipped, returned)
    return Downstream(
        start=start.row,
        goes_on=found.goes_on,
        nodes=node_rows(found),
        edges=edges,
        batches=batches,
        totals=total_rows(found, became, scrapped),
        whereabouts=where_rows(became),
        on_hand=on_hand_rows(found.nodes),
        boxes=box_rows(found.nodes, shipped),
        shipments=shipment_rows(found.nodes, shipped, returned),
        scrapped=scrapped_rows(scrapped),
        account=account_rows(found),
    )


@snapshot()
def upstream(question: Question) -> Upstream:
    """What went in, all of it as of one moment.

    Seven statements; an item adds one or two.

    Raises:
        NotFoundError, CodeTypoError, WrongKindOfCodeError, NothingToTraceError: as of the start.
        TraceTooLargeError: more than anybody reads.
    """
    start = start_of(question, upstream=True)
    found = walk(start, Direction.UPSTREAM, depth_max=question.depth, item_code=question.item)
    edges, batches = _folded(found, question.fold)
    return Upstream(
        start=start.row,
        goes_on=found.goes_on,
        nodes=node_rows(found),
        edges=edges,
        batches=batches,
        receipts=receipt_rows(found.nodes),
    )


def start_of(question: Question, *, upstream: bool) -> Start:
    """Where it begins."""
    assert sum(map(bool, (question.lot, question.batch, question.box))) == 1
    if question.lot:
        return start_of_lot(question.lot)
    if question.batch:
        return start_of_batch(question.batch, upstream=upstream)
    return start_of_box(question.box)


def _folded(found: Walk, fold: str) -> tuple[list[EdgeRow] | None, list[BatchRow] | None]:
    return (
        None if fold == "batches" else edge_rows(found),
        None if fold == "entries" else batch_rows(found),
    )
