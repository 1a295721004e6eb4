"""What the answer to a scan is made of: the thing, what was read, what came with it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final
from urllib.parse import quote

from inventory.purchasing.selectors import Labeled
from shopfloor.codes.gs1.words import ReadElement
from shopfloor.fields import Amount

API: Final = "/api/v1"


@dataclass(frozen=True, slots=True)
class Delivery:
    """A line of a receipt, as a supplier's label proposes it; what it does not say is empty."""

    scan: str
    item: str | None
    supplier: str | None
    order: str | None
    amount: Amount | None
    supplier_lot_code: str
    expires_on: date | None


@dataclass(frozen=True, slots=True)
class ScanTarget:
    """What a scan leads to.

    Attributes:
        kind: What it is: `lot`, `box` ...
        code: Its public code.
        address: Where the API has it.
        meaning: The same in a sentence, and what to do where something is missing.
        read: The GS1 data, element by element.
        delivery: What to receive, where it is a supplier's label.
    """

    kind: str
    code: str
    address: str
    meaning: str
    read: tuple[ReadElement, ...] = ()
    delivery: Delivery | None = None


def target(kind: str, plural: str, code: str, meaning: str = "") -> ScanTarget:
    """A thing by its kind, its list and its code."""
    return ScanTarget(
        kind, code, f"{API}/{plural}/{quote(code)}/", meaning or f"This is {kind} {code}."
    )


def delivery(label: Labeled, *, scan: str) -> Delivery:
    """The line that a label proposes. No query."""
    suppliers = {offer.supplier.code for offer in label.offers}
    return Delivery(
        scan=scan,
        item=None if label.item is None else label.item.code,
        supplier=suppliers.pop() if len(suppliers) == 1 else None,
        order=label.said.our_order_code,
        amount=None if label.item is None else label.amount_of(label.item),
        supplier_lot_code=label.said.lot_code or "",
        expires_on=label.expires_on,
    )
