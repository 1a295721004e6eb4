"""Business events of printing."""

from __future__ import annotations

from batches.labels.operations.printing import note_printing

__all__ = ["note_printing"]
