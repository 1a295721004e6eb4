"""Pages of supplier orders, receipts and returns to suppliers."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from functools import cached_property
from typing import Any, ClassVar

from django.http import HttpRequest, HttpResponse
from django.urls import path

from inventory.purchasing.api import orders, receipts
from shopfloor.screens import Act, ActPage, Column, ListPage, Paper, Table, ThingPage, ask

_LINES = (
    Column("item"),
    Column("packs"),
    Column("pack"),
    Column("pack_price", "Price a pack"),
    Column("promised_on", "Promised"),
    Column("ordered"),
    Column("received"),
    Column("open", "Still open"),
)


class OrdersPage(ListPage):
    """Supplier orders."""

    door = orders.OrdersDoor
    title = "Supplier orders"
    columns = (
        Column("code", "Order", order="code"),
        Column("supplier", order="supplier__code", note="supplier_name"),
        Column("ordered_on", "Ordered", order="ordered_on"),
        Column("state"),
        Column("note"),
    )
    filters = ("supplier", "state")
    acts = (
        Act("Order", "/supplier-orders/new/", is_main=True),
        Act("What is still to come", "/supplier-order-lines/", door=""),
        Act("Receive", "/receipts/new/"),
    )
    none = "Nothing was ordered yet. The reorder list says what is due."


class OrderPage(ThingPage):
    """One supplier order."""

    door = orders.OrderDoor
    title = "Supplier order"
    tables = (Table("lines", "Lines", _LINES),)
    papers = (Paper("supplier-orders", "Order to send"),)
    acts = (
        Act(
            "Receive it",
            "/receipts/new/?order={code}&supplier={supplier}",
            {"state": ["open"]},
            is_main=True,
        ),
        Act(
            "Its lines as a sheet", "/api/v1/supplier-order-lines/?order={code}&format=csv", door=""
        ),
        Act("Close: no more comes", "close/", {"state": ["open"]}),
        Act("Cancel: none came", "cancel/", {"state": ["open"]}),
    )


class OrderLinesPage(ListPage):
    """What is still to come."""

    door = orders.OrderLinesDoor
    title = "Still to come"
    columns = (
        Column("order", to="supplier-orders"),
        Column("item", note="item_name", order="item__code"),
        Column("open", "Still open"),
        Column("promised_on", "Promised", order="promised_on"),
        Column("supplier"),
        Column("ordered_on", "Ordered", order="order__ordered_on"),
    )
    filters = ("supplier", "item", "is_expected")
    preset: ClassVar = {"is_expected": "true", "ordering": "promised_on"}
    to = ""
    none = "Nothing is on order."


class OrderForm(ActPage):
    """A new supplier order."""

    door = orders.OrdersDoor
    title = "Order"
    says = "What we ask a supplier for. The code is ours unless you give one."
    done = "{code} is ordered."
    later = ("code", "ordered_on", "note")
    labels: ClassVar = {
        "lines": "What is ordered",
        "lines.pack": "Pack, where the supplier offers several",
        "lines.pack_price": "Price a pack, where it is not the offer's",
        "lines.promised_on": "Promised for",
    }


class OrderCloseForm(ActPage):
    """What is still open will not come."""

    door = orders.OrderCloseDoor
    title = "Close the order"
    says = (
        "What is still open will not come; what came stays. Of several lines, name the one, or "
        "close all. An order of which nothing came is cancelled instead."
    )


class OrderCancelForm(ActPage):
    """The whole order is off."""

    door = orders.OrderCancelDoor
    title = "Cancel the order"
    says = "The whole order is off. If some of it came, close it instead."


class ReceiptsPage(ListPage):
    """Receipts."""

    door = receipts.ReceiptsDoor
    title = "Receipts"
    columns = (
        Column("code", "Receipt"),
        Column("at", "When", order="posting__at"),
        Column("supplier", order="supplier__code", note="supplier_name"),
        Column("order", to="supplier-orders"),
        Column("delivery_note"),
        Column("by"),
    )
    filters = ("supplier", "item", "at_after", "at_before")
    acts = (Act("Receive", "/receipts/new/", is_main=True),)
    none = "Nothing was received yet."


class ReceiptPage(ThingPage):
    """One receipt."""

    door = receipts.ReceiptDoor
    title = "Receipt"
    to: ClassVar = {"order": "supplier-orders"}
    tables = (
        Table(
            "lines",
            "What came",
            (
                Column("lot"),
                Column("item"),
                Column("amount"),
                Column("value"),
                Column("supplier_lot_code", "The supplier's lot"),
                Column("expires_at", "Expires"),
                Column("place"),
                Column("disposition"),
            ),
        ),
    )
    acts = (Act("Reverse it", "reverse/", {"reversed_by": [None]}),)

    def context(self, thing: Any) -> dict[str, Any]:
        """With one file of stickers for all that came."""
        lots = ",".join(line["lot"] for line in thing["lines"])
        papers = [("Stickers", f"/api/v1/labels/lots.pdf?codes={lots}")]
        return {**super().context(thing), "papers": papers}


class ReceiptForm(ActPage):
    """What came in."""

    door = receipts.ReceiptsDoor
    title = "Receive"
    says = "Scan the supplier's label into a line, or write what came. Each line becomes a lot."
    button = "Receive it"
    done = "{code} is received. Print its stickers."
    later = ("at", "lines.order_line", "lines.lot_code", "lines.disposition")
    first = ("lines.scan", "lines.item", "lines.amount")
    leaves = ("lines.owner",)
    needs = ("lines.item", "lines.amount")
    helps: ClassVar = {
        "lines.scan": "It fills in item, amount, lot and expiry.",
        "lines.item": "",
        "lines.lot_code": "Left empty, one is made.",
        "lines.place": "Left empty, where the item is kept.",
        "lines.disposition": "Left empty, as the item says. Choose quarantined to have it wait for "
        "a test.",
        "lines.order_line": "Only where the order has the item on several lines.",
    }
    labels: ClassVar = {
        "order": "Supplier order",
        "lines": "What came",
        "lines.scan": "Scan of its label",
        "lines.order_line": "Number of the order's line",
        "lines.value": "Value of it all",
        "lines.lot_code": "Own lot code",
        "lines.supplier_lot_code": "The supplier's lot",
        "lines.expires_on": "Expires on",
    }

    def get(self, request: HttpRequest, **address: object) -> HttpResponse:
        """What is open of the order; an order that is not open is left out."""
        is_ended = self.order is not None and self.order["state"] != "open"
        return self.form(self.initial(), {}) if is_ended else super().get(request, **address)

    def initial(self) -> dict[str, Any]:
        """The lines of the order that are still open."""
        order = self.order
        if order is None:
            return {}
        if order["state"] != "open":
            return {"supplier": order["supplier"]}
        lines = [
            {"item": line["item"], "order_line": line["line"], **line["open"]}
            for line in order["lines"]
            if Decimal(line["open"]["amount"]) > 0
        ]
        return {"supplier": order["supplier"], "order": order["code"], "lines": lines}

    @cached_property
    def order(self) -> Mapping[str, Any] | None:
        """The order of the address."""
        code = self.request.GET.get("order")
        said: Mapping[str, Any] | None = (
            ask(self.request, f"supplier-orders/{code}/") if code else None
        )
        return said

    def empty_rows(self) -> int:
        """None below what is still open; more are a tap away."""
        return 0 if self.initial().get("lines") else 1

    def context(self) -> dict[str, Any]:
        """An order that is not open is said to be none."""
        if self.order is None or self.order["state"] == "open":
            return {}
        code, state = self.order["code"], self.order["state"]
        return {
            "says": f"{code} is {state}: nothing more is expected of it. What came all the same is "
            "received without an order."
        }


class ReceiptReverseForm(ActPage):
    """A receipt that was wrong."""

    door = receipts.ReceiptReverseDoor
    title = "Reverse the receipt"
    says = "Wholly, while nothing of it was used. Then receive it again as it truly came."


class SupplierReturnForm(ActPage):
    """Something goes back."""

    door = receipts.SupplierReturnsDoor
    title = "Send back to the supplier"
    done = "It is booked out."
    lands = "/receipts/"
    labels: ClassVar = {"lots": "What goes back"}


urlpatterns = [
    path("supplier-orders/", OrdersPage.as_view()),
    path("supplier-orders/new/", OrderForm.as_view()),
    path("supplier-orders/<str:code>/", OrderPage.as_view()),
    path("supplier-orders/<str:code>/close/", OrderCloseForm.as_view()),
    path("supplier-orders/<str:code>/cancel/", OrderCancelForm.as_view()),
    path("supplier-order-lines/", OrderLinesPage.as_view()),
    path("receipts/", ReceiptsPage.as_view()),
    path("receipts/new/", ReceiptForm.as_view()),
    path("receipts/<str:code>/", ReceiptPage.as_view()),
    path("receipts/<str:code>/reverse/", ReceiptReverseForm.as_view()),
    path("supplier-returns/new/", SupplierReturnForm.as_view()),
]
