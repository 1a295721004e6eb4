"""Sending and taking back, with what the tests of it leave unsaid."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from batches.packing.models import Box, CustomerReturn, Shipment
from batches.packing.operations import (
    Back,
    Price,
    ship,
    take_back_from_customer,
)
from batches.packing.selectors import (
    ShipmentRow,
    box_named,
    shipment_named,
    shipment_rows,
)
from inventory.stock.models import Movement
from shopfloor.models import User
from tests.batches.packing.conftest import stamp_at

DOLLAR = 1_000_000
EACH_8 = [Price("MINNOW", 8 * DOLLAR), Price("FROG", 8 * DOLLAR)]
ClosedBox = Callable[..., Box]


def row_of(shipment: Shipment) -> ShipmentRow:
    return shipment_rows([shipment_named(shipment.code)])[0]


def moved(lot_code: str) -> list[tuple[int, int]]:
    found = Movement.objects.filter(lot__code=lot_code).order_by("id")
    return list(found.values_list("qty_base", "value_micro"))


def state_of(box: Box) -> str:
    return box_named(box.code).state


def send(packer: User, *boxes: Box, **given: Any) -> Shipment:
    return ship(
        customer_code="HEN",
        box_codes=[box.code for box in boxes],
        **{"prices": EACH_8, "stamp": stamp_at(packer), **given},
    )


def back(packer: User, shipment: Shipment, *lines: tuple[str, int], **given: Any) -> CustomerReturn:
    return take_back_from_customer(
        shipment_code=shipment.code,
        lines=[Back(lot_code, pieces) for lot_code, pieces in lines],
        **{"place_code": "RETURNS", "stamp": stamp_at(packer), **given},
    )
