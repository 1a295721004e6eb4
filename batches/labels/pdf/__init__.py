"""Papers drawn as PDF: a frozen dataclass in, bytes into a file object. No queries, no clock."""

from __future__ import annotations

from batches.labels.pdf.boxes import write_box_label
from batches.labels.pdf.lots import write_lot_label
from batches.labels.pdf.travelers import write_traveler

__all__ = ["write_box_label", "write_lot_label", "write_traveler"]
