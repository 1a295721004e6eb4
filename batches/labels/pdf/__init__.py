"""Papers drawn as PDF: frozen dataclasses in, bytes into a file object. No queries, no clock."""

from __future__ import annotations

from batches.labels.pdf.writing import write_papers

__all__ = ["write_papers"]
