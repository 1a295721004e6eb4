"""Writes of purchasing that need an open transaction: an import is made of them too."""

from inventory.purchasing.steps.orders import OrderLineDraft, add_order, cancel_order, close_order
from inventory.purchasing.steps.receipts import ReceiptLineDraft, add_receipt, undo_receipt
from inventory.purchasing.steps.returns import ReturnDraft, send_back, undo_return

__all__ = [
    "OrderLineDraft",
    "ReceiptLineDraft",
    "ReturnDraft",
    "add_order",
    "add_receipt",
    "cancel_order",
    "close_order",
    "send_back",
    "undo_receipt",
    "undo_return",
]
