"""Papers drawn as PDF: frozen dataclasses in, bytes into a file object. No queries, no clock."""

from __future__ import annotations

from batches.labels.pdf.writing import refuse_small_stock, write_papers

__all__ = ["refuse_small_stock", "write_papers"]
