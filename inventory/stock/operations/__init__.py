"""Business events of the ledger, by what a person does."""

from __future__ import annotations

from inventory.stock.operations.books import adjust_lot, close_books, revalue_lot
from inventory.stock.operations.counting import Found, count_lots, reverse_count
from inventory.stock.operations.handling import (
    dispose_of_lot,
    extend_expiry,
    hold_lot,
    move_lot,
    open_lot,
    reject_lot,
    release_hold,
    release_lot,
    split_off,
)
from inventory.stock.operations.opening import OpeningLot, take_in_opening_lots

__all__ = [
    "Found",
    "OpeningLot",
    "adjust_lot",
    "close_books",
    "count_lots",
    "dispose_of_lot",
    "extend_expiry",
    "hold_lot",
    "move_lot",
    "open_lot",
    "reject_lot",
    "release_hold",
    "release_lot",
    "revalue_lot",
    "reverse_count",
    "split_off",
    "take_in_opening_lots",
]
