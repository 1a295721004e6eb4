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
    WhySerializer,
)
from batches.packing.filters import CustomerFilter, CustomerOrderFilter
from shopfloor.doors import ANYONE, PACKERS, Door, ListDoor, StampedDoor
from shopfloor.operation import Operation


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
    ordering: ClassVar = ("code",)

    def get_queryset(self) -> Any:
        """All of them."""
        return selectors.customers()

    def post(self, request: Request) -> Response:
        """Enter one."""
        body = self.read()
        return self.once(
            request, operations.create_customer, customer_json, **body, stamp=self.stamp({})
        )


class CustomerDoor(Door):
    """One customer."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": CustomerOut}

    def get(self, request: Request, code: str) -> Response:
        """The customer."""
        return Response(customer_json(selectors.customer_named(code.upper())))


class ChangeCustomerDoor(StampedDoor):
    """A change of a customer."""

    roles: ClassVar = {"POST": PACKERS}
    takes: ClassVar = {"POST": CustomerChangeSerializer}
    gives: ClassVar = {"POST": (200, CustomerOut)}

    def post(self, request: Request, code: str) -> Response:
        """Change the fields that are named; the rest stays. Kept: who changed what, and when."""
        return self.once(
            request,
            operations.change_customer,
            customer_json,
            customer_code=code.upper(),
            changes=self.read(),
            stamp=self.stamp({}),
        )


class CustomerOrdersDoor(ListDoor, StampedDoor):
    """What customers ordered, what was shipped of it and what is open; newest first."""

    roles: ClassVar = {"GET": ANYONE, "POST": PACKERS}
    takes: ClassVar = {"POST": NewOrderSerializer}
    gives: ClassVar = {"GET": OrderOut, "POST": OrderOut}
    filterset_class = CustomerOrderFilter
    search_fields = ("code", "customer__code", "customer__name", "note")
    ordering_fields = ("code", "ordered_on", "customer__code")
    ordering: ClassVar = ("-pk",)

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


class CustomerOrderDoor(Door):
    """One order."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": OrderOut}

    def get(self, request: Request, code: str) -> Response:
        """The order."""
        return Response(orders_json([selectors.order_named(code.upper())])[0])


class EndOrderDoor(StampedDoor):
    """The end of an order; a subclass names the operation."""

    roles: ClassVar = {"POST": PACKERS}
    takes: ClassVar = {"POST": WhySerializer}
    gives: ClassVar = {"POST": (200, OrderOut)}
    end: ClassVar[Operation[..., Any]]

    def post(self, request: Request, code: str) -> Response:
        """End it, with a reason."""
        return self.once(
            request,
            self.end,
            order_json,
            order_code=code.upper(),
            stamp=self.stamp(self.read()),
        )


class CloseOrderDoor(EndOrderDoor):
    """The end of an order of which not all was shipped: nothing more is promised."""

    end = operations.close_customer_order


class CancelOrderDoor(EndOrderDoor):
    """The end of an order of which nothing was shipped."""

    end = operations.cancel_customer_order
