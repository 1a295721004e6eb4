"""The shop's own stock: entered, and put right after a first print."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from batches.labels.errors import StockImpossibleError
from batches.labels.models import LabelStock
from batches.labels.rules.stock import STANDING, fault_of
from batches.labels.selectors.stocks import stock_of
from inventory.catalog.errors import DuplicateCodeError
from shopfloor.audit import audit_change, facts_of
from shopfloor.codes.alphabet import own_code
from shopfloor.errors import NotFoundError
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
    stock = LabelStock(code=own_code(code), **columns)
    is_taken = LabelStock.objects.filter(code=stock.code).exists()
    if is_taken or stock.code.lower() in STANDING:
        raise DuplicateCodeError(
            "A stock has this name. Give another, or change that one.", codes=[stock.code]
        )
    _refuse_impossible(stock)
    stock.save(force_insert=True)
    audit_change(by=by, at=at, row=stock, before=None)
    return stock


@operation
def change_stock(*, code: str, columns: Mapping[str, Any], by: User, at: datetime) -> LabelStock:
    """Change dimensions of a stock of the shop's own, or whether it is in use.

    Raises:
        NotFoundError: the shop has no such stock of its own.
        StockImpossibleError: no labels can lie so.
    """
    stock = LabelStock.objects.select_for_update().filter(code=code).first()
    if stock is None:
        raise NotFoundError(
            "The shop has no stock of its own with this name; standing ones stay as they are."
            " Enter one.",
            stock=code,
        )
    before = facts_of(stock)
    for name, value in columns.items():
        setattr(stock, name, value)
    _refuse_impossible(stock)
    stock.save()
    audit_change(by=by, at=at, row=stock, before=before)
    return stock


def _refuse_impossible(stock: LabelStock) -> None:
    fault = fault_of(stock_of(stock))
    if fault:
        raise StockImpossibleError(f"{fault} Measure it again, in the unit that you name.")
