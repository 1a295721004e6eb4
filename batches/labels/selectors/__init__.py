"""What papers say, read from the rooms below, and what a scan leads to."""

from __future__ import annotations

from batches.labels.rules.papers import Paper
from batches.labels.rules.stock import PrintJob
from batches.labels.selectors.kinds import PAPERS, PaperKind
from batches.labels.selectors.noted import noted_papers
from batches.labels.selectors.printings import (
    PAPERS_SHOWN,
    PrintingRow,
    printing_job,
    printing_named,
    printing_rows,
    printings,
)
from batches.labels.selectors.scanning import scan_target
from batches.labels.selectors.stocks import (
    StockRow,
    print_job,
    printer_tests,
    stock_named,
    stock_of,
    stock_rows,
)
from batches.labels.selectors.targets import ScanTarget
from batches.labels.selectors.words import WordHit, found_by_words

__all__ = [
    "PAPERS",
    "PAPERS_SHOWN",
    "Paper",
    "PaperKind",
    "PrintJob",
    "PrintingRow",
    "ScanTarget",
    "StockRow",
    "WordHit",
    "found_by_words",
    "noted_papers",
    "print_job",
    "printer_tests",
    "printing_job",
    "printing_named",
    "printing_rows",
    "printings",
    "scan_target",
    "stock_named",
    "stock_of",
    "stock_rows",
]
