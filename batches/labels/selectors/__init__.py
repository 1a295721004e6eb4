"""What papers say, read from the rooms below, and what a scan leads to."""

from __future__ import annotations

from batches.labels.selectors.kinds import PAPERS, PaperKind
from batches.labels.selectors.scanning import ScanTarget, scan_target
from batches.labels.selectors.stocks import print_job, stock_named, stocks

__all__ = [
    "PAPERS",
    "PaperKind",
    "ScanTarget",
    "print_job",
    "scan_target",
    "stock_named",
    "stocks",
]
