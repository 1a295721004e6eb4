"""Business events of printing."""

from __future__ import annotations

from batches.labels.operations.printing import note_printing
from batches.labels.operations.stocks import change_stock, enter_stock

__all__ = ["change_stock", "enter_stock", "note_printing"]
