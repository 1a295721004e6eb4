"""Pages of customers and their orders."""

from __future__ import annotations

from typing import ClassVar

from django.urls import path

from batches.packing.api import customers
from shopfloor.screens import Act, ActPage, ChangePage, Column, ListPage, Table, ThingPage

ORDER_LINES = (
    Column("line"),
    Column("item", note="item_name"),
    Column("ordered"),
    Column("shipped"),
    Column("open", "Still open"),
    Column("price", "Price a piece"),
    Column("promised_on", "Promised"),
    Column("is_closed", "Closed"),
)
_OPEN = {"state": ["open"]}
_LOOK = "Look up"


class CustomersPage(ListPage):
    """Customers."""

    door = customers.CustomersDoor
    title = "Customers"
    columns = (
        Column("code", "Customer", order="code"),
        Column("name", order="name"),
        Column("address"),
        Column("is_active"),
    )
    filters = ("is_active",)
    acts = (Act("Add a customer", "/customers/new/", is_main=True),)
    none = "No customers yet. Add the first, then write down what they ordered."


class CustomerPage(ThingPage):
    """One customer."""

    door = customers.CustomerDoor
    title = "Customer"
    hidden = ("name",)
    acts = (
        Act("Write down an order", "/customer-orders/new/?customer={code}", is_main=True),
        Act("Ship to them", "/shipments/new/?customer={code}"),
        Act("Their orders", "/customer-orders/?customer={code}", door="", group=_LOOK),
        Act("What they got", "/shipments/?customer={code}", door="", group=_LOOK),
        Act("What they sent back", "/customer-returns/?customer={code}", door="", group=_LOOK),
        Act("What they complained of", "/complaints/?customer={code}", door="", group=_LOOK),
        Act("Change it", "change/", group="Correct"),
    )


class CustomerForm(ActPage):
    """A new customer."""

    door = customers.CustomersDoor
    title = "Add a customer"
    done = "{code} is added."


class CustomerChange(ChangePage):
    """A customer, changed."""

    door = customers.ChangeCustomerDoor
    title = "Change a customer"


class CustomerOrdersPage(ListPage):
    """Customer orders."""

    door = customers.CustomerOrdersDoor
    title = "Customer orders"
    says = "What customers ordered, what left of it and what is still to be sent."
    columns = (
        Column("code", "Order", order="code"),
        Column("customer", order="customer__code", note="customer_name"),
        Column("ordered_on", "Ordered", order="ordered_on"),
        Column("state"),
        Column("note"),
    )
    filters = ("customer", "item", "state")
    preset: ClassVar = {"state": "open"}
    acts = (Act("Write down an order", "/customer-orders/new/", is_main=True),)
    none = "No order is open."


class CustomerOrderPage(ThingPage):
    """One customer order."""

    door = customers.CustomerOrderDoor
    title = "Customer order"
    hidden = ("customer_name",)
    tables = (Table("lines", "Lines", ORDER_LINES),)
    acts = (
        Act("Ship it", "/shipments/new/?order={code}&customer={customer}", _OPEN, is_main=True),
        Act("What left for it", "/shipments/?order={code}", door=""),
        Act("Close it", "close/", _OPEN),
        Act("Cancel it", "cancel/", _OPEN),
    )


class CustomerOrderForm(ActPage):
    """A new customer order."""

    door = customers.CustomerOrdersDoor
    title = "Write down an order"
    says = "What a customer wants, at what price and by when. The code is ours unless you give one."
    button = "Save the order"
    done = "{code} is written down."
    first = ("customer", "lines")
    later = ("code", "ordered_on")
    labels: ClassVar = {
        "lines": "What they want",
        "lines.price": "Price a piece",
        "lines.promised_on": "Promised for",
        "ordered_on": "Ordered on, if not today",
    }


class CustomerOrderCloseForm(ActPage):
    """What is still open will not be sent."""

    door = customers.CloseOrderDoor
    title = "Close the order"
    says = "What is still open of it will not be sent."


class CustomerOrderCancelForm(ActPage):
    """The whole order is off."""

    door = customers.CancelOrderDoor
    title = "Cancel the order"
    says = "The whole order is off. Once something left for it, close it instead."


urlpatterns = [
    path("customers/", CustomersPage.as_view()),
    path("customers/new/", CustomerForm.as_view()),
    path("customers/<str:code>/", CustomerPage.as_view()),
    path("customers/<str:code>/change/", CustomerChange.as_view()),
    path("customer-orders/", CustomerOrdersPage.as_view()),
    path("customer-orders/new/", CustomerOrderForm.as_view()),
    path("customer-orders/<str:code>/", CustomerOrderPage.as_view()),
    path("customer-orders/<str:code>/close/", CustomerOrderCloseForm.as_view()),
    path("customer-orders/<str:code>/cancel/", CustomerOrderCancelForm.as_view()),
]
