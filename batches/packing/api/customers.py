"""Doors of customers and their orders."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from rest_framework.request import Request
from rest_framework.response import Response

from batches.packing import operations, selectors
from batches.packing.api.shapes import (
    CustomerChangeSerializer,
    CustomerOut,
    NewCustomerSerializer,
    NewOrderSerializer,
    OrderOut,
)
from batches.packing.filters import CustomerFilter, CustomerOrderFilter
from shopfloor.doors import ANYONE, PACKERS, ListDoor, StampedDoor, WhenWhySerializer


def customer_json(customer: Any) -> dict[str, Any]:
    """A customer as the API answers one."""
    return dict(CustomerOut(customer).data)


def orders_json(orders: Sequence[Any]) -> list[dict[str, Any]]:
    """Orders as the API answers them."""
    return [dict(OrderOut(row).data) for row in selectors.order_rows(orders)]


def order_json(order: Any) -> dict[str, Any]:
    """An order that an operation answers."""
    return orders_json([selectors.order_named(order.code)])[0]


class CustomersDoor(ListDoor, StampedDoor):
    """The shop's customers."""

    roles: ClassVar = {"GET": ANYONE, "POST": PACKERS}
    takes: ClassVar = {"POST": NewCustomerSerializer}
    gives: ClassVar = {"GET": CustomerOut, "POST": CustomerOut}
    filterset_class = CustomerFilter
    search_fields = ("code", "name")
    ordering_fields = ("code", "name")

    def get_queryset(self) -> Any:
        """All of them."""
        return selectors.customers()

    def post(self, request: Request) -> Response:
        """Enter one."""
        body = self.read()
        return self.once(
            request, operations.create_customer, customer_json, **body, stamp=self.stamp({})
        )


class CustomerDoor(StampedDoor):
    """One customer."""

    roles: ClassVar = {"GET": ANYONE, "PATCH": PACKERS}
    takes: ClassVar = {"PATCH": CustomerChangeSerializer}
    gives: ClassVar = {"GET": CustomerOut, "PATCH": CustomerOut}

    def get(self, request: Request, code: str) -> Response:
        """The customer."""
        return Response(customer_json(selectors.customer_named(code.upper())))

    def patch(self, request: Request, code: str) -> Response:
        """Change it; the same again changes nothing, so no key is needed."""
        customer = operations.change_customer(
            customer_code=code.upper(), changes=self.read(), stamp=self.stamp({})
        )
        return Response(customer_json(customer))


class CustomerOrdersDoor(ListDoor, StampedDoor):
    """What customers ordered, what was shipped of it and what is open."""

    roles: ClassVar = {"GET": ANYONE, "POST": PACKERS}
    takes: ClassVar = {"POST": NewOrderSerializer}
    gives: ClassVar = {"GET": OrderOut, "POST": OrderOut}
    filterset_class = CustomerOrderFilter
    search_fields = ("code", "customer__name", "note")
    ordering_fields = ("code", "ordered_on", "customer__code")

    def get_queryset(self) -> Any:
        """All orders."""
        return selectors.customer_orders()

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """Rows with their lines."""
        return orders_json(page)

    def post(self, request: Request) -> Response:
        """Enter one."""
        body = self.read()
        return self.once(
            request,
            operations.enter_customer_order,
            order_json,
            customer_code=body["customer"],
            code=body["code"],
            ordered_on=body["ordered_on"],
            note=body["note"],
            lines=[
                operations.OrderLine(
                    item_code=line["item"],
                    pieces=line["pieces"],
                    price_micro=line["price"],
                    promised_on=line["promised_on"],
                )
                for line in body["lines"]
            ],
            stamp=self.stamp({}),
        )


class CustomerOrderDoor(StampedDoor):
    """One order."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": OrderOut}

    def get(self, request: Request, code: str) -> Response:
        """The order."""
        return Response(orders_json([selectors.order_named(code.upper())])[0])


class CloseOrderDoor(StampedDoor):
    """The end of an order of which not all was shipped."""

    roles: ClassVar = {"POST": PACKERS}
    takes: ClassVar = {"POST": WhenWhySerializer}
    gives: ClassVar = {"POST": (200, OrderOut)}

    def post(self, request: Request, code: str) -> Response:
        """Close it: nothing more is promised."""
        return self.once(
            request,
            operations.close_customer_order,
            order_json,
            order_code=code.upper(),
            stamp=self.stamp(self.read()),
        )


class CancelOrderDoor(StampedDoor):
    """The end of an order of which nothing was shipped."""

    roles: ClassVar = {"POST": PACKERS}
    takes: ClassVar = {"POST": WhenWhySerializer}
    gives: ClassVar = {"POST": (200, OrderOut)}

    def post(self, request: Request, code: str) -> Response:
        """Cancel it."""
        return self.once(
            request,
            operations.cancel_customer_order,
            order_json,
            order_code=code.upper(),
            stamp=self.stamp(self.read()),
        )
