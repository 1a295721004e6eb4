"""The shop's own stock: entered, and put right after a first print."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from batches.labels.errors import StockImpossibleError
from batches.labels.models import LabelStock
from batches.labels.rules.stock import STANDING, Stock, fault_of
from batches.labels.selectors.stocks import STOCK_COLUMNS, stock_of
from inventory.catalog.errors import DuplicateCodeError
from inventory.catalog.steps.rows import add_row, edit_row, lock_row
from shopfloor.models import User
from shopfloor.operation import operation


@operation
def enter_stock(*, code: str, columns: Mapping[str, Any], by: User, at: datetime) -> LabelStock:
    """Enter labels or sheets by their dimensions.

    Raises:
        OwnCodeError: not a code.
        DuplicateCodeError: a stock has it.
        StockImpossibleError: no labels can lie so.
    """
    if code.strip().lower() in STANDING:
        raise DuplicateCodeError(
            "A standing stock has this name. Give another.", codes=[code.strip().upper()]
        )
    stock = LabelStock(code=code, **columns)
    _refuse_impossible(stock_of(stock))
    return add_row(stock, by=by, at=at)


@operation
def change_stock(*, code: str, columns: Mapping[str, Any], by: User, at: datetime) -> LabelStock:
    """Change dimensions of a stock of the shop's own, or whether it is in use.

    Raises:
        NotFoundError: the shop has no such stock of its own.
        StockImpossibleError: no labels can lie so.
    """
    stock = lock_row(LabelStock, code)
    lengths = {name: value for name, value in columns.items() if name in STOCK_COLUMNS}
    _refuse_impossible(replace(stock_of(stock), **lengths))
    return edit_row(stock, columns, by=by, at=at)


def _refuse_impossible(stock: Stock) -> None:
    fault = fault_of(stock)
    if fault:
        raise StockImpossibleError(f"{fault} Measure it again, in the unit that you name.")
