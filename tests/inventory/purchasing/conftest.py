"""An order of five packs of hooks, and short ways to receive and to read the ledger."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import pytest

from inventory.catalog.models import Offer
from inventory.purchasing.models import Receipt, SupplierOrder
from inventory.purchasing.operations import place_supplier_order, receive_delivery
from inventory.purchasing.steps import OrderLineDraft, ReceiptLineDraft
from inventory.stock.models import Lot, Movement
from shopfloor.fields import Amount
from shopfloor.models import User
from tests.inventory.conftest import NOON, Caller, stamp_at

Calling = Callable[[User], Caller]

ORDERED_ON = date(2026, 1, 5)

AT = "2026-03-02T12:00:00-06:00"
"""The same noon as a program would write it."""

FIVE_PACKS: dict[str, Any] = {
    "supplier": "hooks",
    "ordered_on": "2026-01-05",
    "lines": [{"item": "hook-6", "packs": 5, "promised_on": "2026-03-16"}],
}


def with_line(**fields: Any) -> dict[str, Any]:
    """An order of one line."""
    return {**FIVE_PACKS, "lines": [{"item": "hook-6", "packs": 5, **fields}]}


def delivery(**fields: Any) -> dict[str, Any]:
    """A thousand hooks for 45.00, as one line."""
    line = {"item": "hook-6", "amount": "1000", "unit": "each", "value": "45", **fields}
    return {"supplier": "hooks", "at": AT, "lines": [line]}


@pytest.fixture
def order(hook_offer: Offer, lead: User) -> SupplierOrder:
    """Five packs of a thousand at 40.00, ordered eight weeks before noon."""
    return place_supplier_order(
        supplier_code="HOOKS",
        lines=[OrderLineDraft(item_code="HOOK-6", packs=5)],
        ordered_on=ORDERED_ON,
        stamp=stamp_at(lead),
    )


def each(pieces: int) -> Amount:
    return Amount(Decimal(pieces), "each")


def receive(
    by: User,
    *lines: ReceiptLineDraft,
    at: datetime = NOON,
    order: SupplierOrder | None = None,
    supplier: str = "HOOKS",
) -> Receipt:
    return receive_delivery(
        supplier_code=supplier,
        lines=lines,
        order_code="" if order is None else order.code,
        stamp=stamp_at(by, at),
    )


def hooks(pieces: int, **fields: Any) -> ReceiptLineDraft:
    return ReceiptLineDraft(item_code="HOOK-6", amount=each(pieces), **fields)


def lots_of(receipt: Receipt) -> list[Lot]:
    return [line.lot for line in receipt.lines.select_related("lot").order_by("pk")]


def moved(lots: Sequence[Lot]) -> list[tuple[int, int]]:
    """Amounts and values of all movements of the lots, oldest first."""
    rows = Movement.objects.filter(lot__in=lots).order_by("id")
    return list(rows.values_list("qty_base", "value_micro"))
