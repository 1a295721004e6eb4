"""The paper of a trace, of the rows of its answer. No statement."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from batches.labels.rules.papers_trace import TracedEdge, TracedTotal, TracePaper
from batches.labels.rules.stock import PrintJob
from batches.labels.selectors.moments import minute_text
from batches.labels.selectors.stocks import print_job
from batches.trace.rules.drawing import laid_out
from batches.trace.selectors.pictures import picture_of
from batches.trace.selectors.rows import Downstream, EdgeRow, TotalRow, Upstream
from inventory.stock.selectors.amounts import in_words


def trace_paper(answer: Upstream | Downstream, *, at: datetime) -> TracePaper:
    """The drawing and the tables.

    Raises:
        TraceTooLargeError: more lots than a drawing has room for.
    """
    picture = picture_of(answer)
    return TracePaper(
        title=picture.title,
        as_of=minute_text(at),
        drawing=laid_out(picture),
        totals=tuple(map(_total, answer.totals if isinstance(answer, Downstream) else ())),
        edges=tuple(map(_edge, answer.edges or ())),
    )


def trace_job(stock: str) -> PrintJob:
    """The job of it: on the sheet named, lying on its side.

    Raises:
        StockUnknownError: no such stock.
    """
    job = print_job(stock, dpi=600)
    upright = job.stock
    return replace(
        job,
        stock=replace(
            upright,
            page_width_um=upright.page_height_um,
            page_height_um=upright.page_width_um,
            label_width_um=upright.label_height_um,
            label_height_um=upright.label_width_um,
        ),
    )


def _total(row: TotalRow) -> TracedTotal:
    return TracedTotal(
        row.item,
        row.became.replace("_", " "),
        in_words(row.amount),
        "" if row.part is None else in_words(row.part.by_share),
        "" if row.part is None else in_words(row.part.up_to),
    )


def _edge(row: EdgeRow) -> TracedEdge:
    return TracedEdge(
        minute_text(row.at),
        f"{row.stage} {row.batch}" if row.batch else f"{row.kind} {row.posting}",
        f"{row.taken_lot} {row.taken_item}",
        in_words(row.taken),
        f"{row.made_lot} {row.made_item}" if row.made_lot else "nothing: all scrapped",
        "" if row.made is None else in_words(row.made),
        "" if row.part is None else in_words(row.part.up_to),
    )
