"""Doors of what leaves to customers and what comes back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from rest_framework.request import Request
from rest_framework.response import Response

from batches.packing import operations, selectors
from batches.packing.api.shapes import (
    NewReturnSerializer,
    NewShipmentSerializer,
    ReturnOut,
    ShipmentOut,
)
from batches.packing.filters import CustomerReturnFilter, ShipmentFilter
from shopfloor.doors import ANYONE, PACKERS, Door, ListDoor, StampedDoor, WhenWhySerializer


def shipments_json(shipments: Sequence[Any]) -> list[dict[str, Any]]:
    """Shipments as the API answers them."""
    return [dict(ShipmentOut(row).data) for row in selectors.shipment_rows(shipments)]


def shipment_json(shipment: Any) -> dict[str, Any]:
    """A shipment that an operation answers."""
    return shipments_json([selectors.shipment_named(shipment.code)])[0]


def returns_json(returns: Sequence[Any]) -> list[dict[str, Any]]:
    """Returns as the API answers them."""
    return [dict(ReturnOut(row).data) for row in selectors.return_rows(returns)]


def return_json(returned: Any) -> dict[str, Any]:
    """A return that an operation answers."""
    return returns_json([selectors.customer_return_named(returned.posting.code)])[0]


class ShipmentsDoor(ListDoor, StampedDoor):
    """What left to whom, newest first."""

    roles: ClassVar = {"GET": ANYONE, "POST": PACKERS}
    takes: ClassVar = {"POST": NewShipmentSerializer}
    gives: ClassVar = {"GET": ShipmentOut, "POST": ShipmentOut}
    filterset_class = ShipmentFilter
    search_fields = ("customer__code", "customer__name", "order__code", "carrier")
    ordering_fields = ("posting__at", "customer__code")
    ordering: ClassVar = ("-pk",)

    def get_queryset(self) -> Any:
        """All shipments."""
        return selectors.shipments()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows with their lines."""
        return shipments_json(page)

    def post(self, request: Request) -> Response:
        """Ship boxes and loose lots."""
        body = self.read()
        return self.once(
            request,
            operations.ship,
            shipment_json,
            customer_code=body["customer"],
            order_code=body["order"],
            box_codes=body["boxes"],
            lots=[
                operations.LooseLot(lot["lot"], lot["pieces"], lot["price"], lot["purpose"])
                for lot in body["lots"]
            ],
            prices=[
                operations.Price(price["item"], price["price"], price["purpose"])
                for price in body["prices"]
            ],
            purpose=body["purpose"],
            carrier=body["carrier"],
            stamp=self.stamp(body),
        )


class ShipmentDoor(Door):
    """One shipment."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": ShipmentOut}

    def get(self, request: Request, code: str) -> Response:
        """The shipment."""
        return Response(shipments_json([selectors.shipment_named(code)])[0])


class ReverseDoor(StampedDoor):
    """A shipment that never left."""

    roles: ClassVar = {"POST": PACKERS}
    takes: ClassVar = {"POST": WhenWhySerializer}
    gives: ClassVar = {"POST": (200, ShipmentOut)}

    def post(self, request: Request, code: str) -> Response:
        """Undo it, with a reason."""
        return self.once(
            request,
            operations.reverse_shipment,
            shipment_json,
            shipment_code=code,
            stamp=self.stamp(self.read()),
        )


class CustomerReturnsDoor(ListDoor, StampedDoor):
    """What customers sent back, newest first."""

    roles: ClassVar = {"GET": ANYONE, "POST": PACKERS}
    takes: ClassVar = {"POST": NewReturnSerializer}
    gives: ClassVar = {"GET": ReturnOut, "POST": ReturnOut}
    filterset_class = CustomerReturnFilter
    search_fields = ("shipment__customer__code", "shipment__customer__name", "posting__reason")
    ordering_fields = ("posting__at", "shipment__customer__code")
    ordering: ClassVar = ("-pk",)

    def get_queryset(self) -> Any:
        """All returns."""
        return selectors.customer_returns()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows with their lines."""
        return returns_json(page)

    def post(self, request: Request) -> Response:
        """Take pieces back, quarantined."""
        body = self.read()
        return self.once(
            request,
            operations.take_back_from_customer,
            return_json,
            shipment_code=body["shipment"],
            lines=[operations.Back(line["lot"], line["pieces"]) for line in body["lines"]],
            place_code=body["place"],
            complaint_code=body["complaint"],
            stamp=self.stamp(body),
        )


class CustomerReturnDoor(Door):
    """One return, by the code of its posting."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": ReturnOut}

    def get(self, request: Request, code: str) -> Response:
        """The return."""
        return Response(returns_json([selectors.customer_return_named(code)])[0])


class ReverseReturnDoor(StampedDoor):
    """A return that never came."""

    roles: ClassVar = {"POST": PACKERS}
    takes: ClassVar = {"POST": WhenWhySerializer}
    gives: ClassVar = {"POST": (200, ReturnOut)}

    def post(self, request: Request, code: str) -> Response:
        """Undo it, with a reason."""
        return self.once(
            request,
            operations.reverse_customer_return,
            return_json,
            posting_code=code,
            stamp=self.stamp(self.read()),
        )
