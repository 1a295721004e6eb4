"""What papers say, read from the rooms below, and what a scan leads to."""

from __future__ import annotations

from batches.labels.selectors.papers import box_label, lot_label, traveler
from batches.labels.selectors.scanning import ScanTarget, scan_target

__all__ = ["ScanTarget", "box_label", "lot_label", "scan_target", "traveler"]
