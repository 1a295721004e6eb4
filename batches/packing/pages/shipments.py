"""Pages of what leaves to customers and what comes back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django.urls import path

from batches.packing.api import shipments
from batches.packing.pages.customers import ORDER_LINES
from shopfloor.screens import Act, ActPage, Column, ListPage, Paper, Table, ThingPage, ask, drawn

_UNTOUCHED = {"reversed_by": [None]}


class ShipmentsPage(ListPage):
    """Shipments."""

    door = shipments.ShipmentsDoor
    title = "Shipments"
    columns = (
        Column("code", "Shipment"),
        Column("at", "Left", order="posting__at"),
        Column("customer", order="customer__code", note="customer_name"),
        Column("order", to="customer-orders"),
        Column("carrier"),
        Column("price", "Price of it all"),
        Column("reversed_by", "Reversed by", to="postings"),
    )
    filters = ("customer", "order", "box", "lot")
    acts = (Act("Ship", "/shipments/new/", is_main=True),)
    none = "Nothing left yet. Close a box, then ship it."


class ShipmentPage(ThingPage):
    """One shipment."""

    door = shipments.ShipmentDoor
    title = "Shipment"
    hidden = ("customer_name", "recorded_at")
    labels: ClassVar = {"at": "Left", "price": "Price of it all", "cost": "Material in it"}
    to: ClassVar = {"order": "customer-orders", "reversed_by": "postings"}
    tables = (
        Table(
            "lines",
            "What left",
            (
                Column("box"),
                Column("lot"),
                Column("item", note="item_name"),
                Column("pieces"),
                Column("returned", "Came back"),
                Column("price", "Price a piece"),
                Column("purpose"),
                Column("order_line", "Line of the order"),
            ),
        ),
    )
    acts = (
        Act("Something came back", "/customer-returns/new/?shipment={code}", _UNTOUCHED),
        Act("Complaint", "/complaints/new/?customer={customer}"),
        Act("It never left", "reverse/", _UNTOUCHED),
    )
    papers = (Paper("shipments", "Packing list"),)


class ShipmentForm(ActPage):
    """What leaves."""

    door = shipments.ShipmentsDoor
    title = "Ship"
    says = "Scan closed boxes; whatever is in them leaves with them."
    button = "Ship it"
    done = "{code} left. Print its packing list."
    first = ("customer", "order", "boxes", "carrier", "purpose")
    later = ("at", "reason", "lots", "prices")
    looks: ClassVar = {"order": "customer-orders"}
    labels: ClassVar = {
        "order": "Customer order",
        "lots": "Lures in no box of ours",
        "lots.pieces": "Pieces; empty means all of it",
        "lots.price": "Price a piece",
        "prices": "Prices that are not those of the order",
        "prices.price": "Price a piece",
    }
    helps: ClassVar = {"boxes": "A code a line."}

    def context(self) -> dict[str, Any]:
        """With what the order still wants."""
        code = self.request.GET.get("order")
        if not code:
            return {}
        order = ask(self.request, f"customer-orders/{code}/")
        open_lines = [line for line in order["lines"] if line["open"]]
        return {"table": drawn(Table("lines", "Still to be sent", ORDER_LINES[1:6]), open_lines)}


class ShipmentReverseForm(ActPage):
    """It never left."""

    door = shipments.ReverseDoor
    title = "It never left"
    needs = ("reason",)
    says = "Puts everything back as it stood before. Say why. What came back is a return instead."


class CustomerReturnsPage(ListPage):
    """Returns."""

    door = shipments.CustomerReturnsDoor
    title = "Returns"
    says = "What customers sent back. It waits, quarantined, until somebody looked at it."
    columns = (
        Column("posting", "Return"),
        Column("at", "Came", order="posting__at"),
        Column("customer", order="shipment__customer__code", note="customer_name"),
        Column("shipment"),
        Column("complaint"),
        Column("reason", "Why"),
    )
    filters = ("customer", "shipment", "lot")
    acts = (Act("Something came back", "/customer-returns/new/", is_main=True),)
    none = "Nothing came back."
    to = "/customer-returns/{posting}/"


class CustomerReturnPage(ThingPage):
    """One return."""

    door = shipments.CustomerReturnDoor
    title = "Return"
    hidden = ("customer_name", "recorded_at", "posting")
    labels: ClassVar = {"at": "Came", "cost": "Material in it", "reason": "Why"}
    to: ClassVar = {"reversed_by": "postings"}
    tables = (
        Table(
            "lines",
            "What came",
            (Column("lot"), Column("item", note="item_name"), Column("pieces"), Column("place")),
        ),
    )
    acts = (Act("It never came", "reverse/", _UNTOUCHED),)

    def heading(self, thing: Mapping[str, Any]) -> str:
        """The code of its posting."""
        return str(thing["posting"])


class CustomerReturnForm(ActPage):
    """What came back."""

    door = shipments.CustomerReturnsDoor
    title = "Something came back"
    says = "Of which shipment, how many pieces, where they are put. They wait for a look."
    button = "Take it back"
    done = "{posting}: it is back, quarantined."
    lands = "/customer-returns/{posting}/"
    first = ("shipment", "lines", "place", "complaint")
    later = ("at",)
    needs = ("reason",)
    labels: ClassVar = {
        "lines": "What came",
        "place": "Where it is put",
        "complaint": "Complaint it comes back for",
        "reason": "Why it came back",
    }

    def initial(self) -> dict[str, Any]:
        """The lots of the shipment; the pieces are to be counted."""
        code = self.request.GET.get("shipment")
        if not code:
            return {}
        lines = ask(self.request, f"shipments/{code}/")["lines"]
        left = [line for line in lines if line["pieces"] > line["returned"]]
        return {"shipment": code, "lines": [{"lot": line["lot"]} for line in left]}


class CustomerReturnReverseForm(ActPage):
    """It never came."""

    door = shipments.ReverseReturnDoor
    title = "It never came"
    needs = ("reason",)
    says = "Undoes the return, while its pieces lie where they were put. Say why."


urlpatterns = [
    path("shipments/", ShipmentsPage.as_view()),
    path("shipments/new/", ShipmentForm.as_view()),
    path("shipments/<str:code>/", ShipmentPage.as_view()),
    path("shipments/<str:code>/reverse/", ShipmentReverseForm.as_view()),
    path("customer-returns/", CustomerReturnsPage.as_view()),
    path("customer-returns/new/", CustomerReturnForm.as_view()),
    path("customer-returns/<str:code>/", CustomerReturnPage.as_view()),
    path("customer-returns/<str:code>/reverse/", CustomerReturnReverseForm.as_view()),
]
