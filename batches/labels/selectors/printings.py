"""Reads of the record of printing."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from typing import Final, NamedTuple

from django.db.models import Count, QuerySet, Window
from django.db.models.functions import RowNumber

from batches.labels.models import PrintedPaper, Printing
from batches.labels.rules.papers import TITLES
from batches.labels.rules.stock import PrintJob
from batches.labels.selectors.stocks import print_job
from inventory.stock.selectors.among import Among
from shopfloor.codes.alphabet import Prefix, decode
from shopfloor.errors import NotFoundError

PAPERS_SHOWN: Final = 100
"""Papers of each printing in a list of them; a printing alone shows all."""


class PrintedRow(NamedTuple):
    """A paper of a printing; `reprint` is 0 for the first one of its kind."""

    code: str
    reprint: int


class PrintingRow(NamedTuple):
    """A printing as the API shows one."""

    code: str
    kind: str
    title: str
    stock: str
    dpi: int
    copies: int
    at: datetime
    by: str
    paper_count: int
    papers: list[PrintedRow]


def printings() -> QuerySet[Printing]:
    """All of them, to be filtered and paged; `printing_rows` makes rows of a page."""
    return Printing.objects.select_related("by").order_by("-pk")


def printing_rows(found: Sequence[Printing], *, papers_max: int | None = None) -> list[PrintingRow]:
    """Printings with their papers, or the first of them. One statement when persons are loaded."""
    papers: dict[int, list[PrintedRow]] = defaultdict(list)
    counts: dict[int, int] = {}
    rows = PrintedPaper.objects.filter(Among("printing", [each.pk for each in found])).annotate(
        place=Window(RowNumber(), partition_by="printing", order_by="pk"),
        count=Window(Count("pk"), partition_by="printing"),
    )
    if papers_max is not None:
        rows = rows.filter(place__lte=papers_max)
    shown = rows.order_by("pk").values_list("printing_id", "code", "number", "count")
    for printing_id, code, number, count in shown:
        papers[printing_id].append(PrintedRow(code, number - 1))
        counts[printing_id] = count
    return [
        PrintingRow(
            code=each.code,
            kind=each.kind,
            title=TITLES[each.kind],
            stock=each.stock,
            dpi=each.dpi,
            copies=each.copies,
            at=each.at,
            by=each.by.username,
            paper_count=counts[each.pk],
            papers=papers[each.pk],
        )
        for each in found
    ]


def printing_named(code: str) -> Printing:
    """One statement.

    Raises:
        NotFoundError: there is none.
        CodeUnreadableError, CodeTypoError, WrongKindOfCodeError: not the code of a printing.
    """
    found = printings().filter(pk=decode(code, Prefix.PRINTING)[1]).first()
    if found is None:
        raise NotFoundError("No printing has this code. Look at the list of printings.", code=code)
    return found


def printing_job(printing: Printing) -> PrintJob:
    """On what it was printed.

    Raises:
        StockUnknownError: the stock is no more.
    """
    return print_job(
        printing.stock,
        dpi=printing.dpi,
        start=printing.start,
        nudge_x_um=printing.nudge_x_um,
        nudge_y_um=printing.nudge_y_um,
        has_cut_marks=printing.has_cut_marks,
    )
