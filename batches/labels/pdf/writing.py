"""Many papers into one file, each drawn by its own writer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from types import MappingProxyType
from typing import IO, Any, Final, NamedTuple

from batches.labels.errors import StockTooSmallError
from batches.labels.pdf.boxes import draw_box_label
from batches.labels.pdf.cartons import draw_carton_label
from batches.labels.pdf.counts import draw_count_sheet
from batches.labels.pdf.holds import draw_hold_tag
from batches.labels.pdf.lots import draw_lot_label
from batches.labels.pdf.packing import draw_packing_list
from batches.labels.pdf.pages import Pages
from batches.labels.pdf.printer_tests import draw_printer_test
from batches.labels.pdf.reports import draw_report
from batches.labels.pdf.sheet import Sheet
from batches.labels.pdf.shelves import draw_shelf_label
from batches.labels.pdf.travelers import draw_traveler
from batches.labels.rules.papers import BoxLabel, LotLabel, Paper, PrinterTest, Traveler
from batches.labels.rules.papers_packing import CartonLabel, PackingList
from batches.labels.rules.papers_report import Report
from batches.labels.rules.papers_stock import CountSheet, HoldTag, ShelfLabel
from batches.labels.rules.stock import UM_PER_MM, PrintJob


class Writer(NamedTuple):
    """How a kind of paper is drawn.

    Attributes:
        noun: What it is, for titles and refusals.
        draw: Draws it on a sheet of at least this size.
        width_mm: Least width of the label.
        height_mm: Least height.
    """

    noun: str
    draw: Callable[[Sheet, Any], None]
    width_mm: int
    height_mm: int


WRITERS: Final = MappingProxyType(
    {
        LotLabel: Writer("Lot sticker", draw_lot_label, 50, 25),
        BoxLabel: Writer("Box label", draw_box_label, 66, 34),
        CartonLabel: Writer("Carton label", draw_carton_label, 100, 50),
        HoldTag: Writer("Hold tag", draw_hold_tag, 90, 45),
        ShelfLabel: Writer("Shelf label", draw_shelf_label, 50, 25),
        Traveler: Writer("Traveler", draw_traveler, 200, 270),
        CountSheet: Writer("Count sheet", draw_count_sheet, 200, 270),
        PrinterTest: Writer("Printer test", draw_printer_test, 10, 10),
        PackingList: Writer("Packing list", draw_packing_list, 200, 270),
        Report: Writer("Report", draw_report, 200, 270),
    }
)


def write_papers(papers: Sequence[Paper], *, job: PrintJob, file: IO[bytes]) -> int:
    """Draw papers one after the other on their stock; returns the number of pages.

    Args:
        papers: At least one; all go on labels of this stock.
        job: On what and for whom.
        file: Where to.

    Raises:
        StockTooSmallError: one of them needs larger labels.
        SymbolSpaceError: a code is longer than any symbol on this stock can hold.
    """
    assert papers
    for paper in papers:
        _check_size(paper, job)
    pages = Pages(file, job=job, title=_title(papers))
    for paper in papers:
        WRITERS[type(paper)].draw(pages.label(), paper)
    return pages.save()


def _check_size(paper: Paper, job: PrintJob) -> None:
    writer, stock = WRITERS[type(paper)], job.stock
    width, height = stock.label_width_um, stock.label_height_um
    if width < writer.width_mm * UM_PER_MM or height < writer.height_mm * UM_PER_MM:
        raise StockTooSmallError(
            f"A {writer.noun.lower()} needs labels of at least {writer.width_mm} x "
            f"{writer.height_mm} mm; those of {stock.name} are smaller. Take another stock.",
            paper=writer.noun,
            stock=stock.name,
            width_mm=writer.width_mm,
            height_mm=writer.height_mm,
        )


def _title(papers: Sequence[Paper]) -> str:
    noun = WRITERS[type(papers[0])].noun
    more = f" and {len(papers) - 1} more" if len(papers) > 1 else ""
    return f"{noun} {papers[0].code}{more}"
