"""Pages for who keeps the books: postings, a period, a day's stock, closing."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Any, ClassVar

from django.http import HttpRequest
from django.urls import path
from django.utils import timezone

from inventory.stock.api import books, period
from shopfloor.days import shop_day
from shopfloor.screens import Act, ActPage, Column, ListPage, Table, drawn
from shopfloor.screens.cells import cell

_HEAD = {
    "opening_value": "Stock before",
    "closing_value": "Stock after",
    "closed_through": "Closed through",
    "is_final": "Closed for good",
    "currency": "Currency",
}
_OUTSIDE = Table(
    "outside",
    "What came from and went to the outside",
    (
        Column("outside_kind", "What"),
        Column("postings"),
        Column("posted"),
        Column("undone"),
        Column("value"),
    ),
    none="Nothing in this period.",
)


class PostingsPage(ListPage):
    """Postings."""

    door = books.PostingsDoor
    title = "Postings"
    says = "Every event that changed an amount or a value. Added, never changed."
    columns = (
        Column("code", "Posting"),
        Column("at", "When", order="at"),
        Column("kind", "What"),
        Column("document_code", "For"),
        Column("outside_value", "From or to the outside"),
        Column("by"),
        Column("reason", "Why"),
        Column("reverses", to="postings"),
        Column("reversed_by", to="postings"),
    )
    filters = ("kind", "document_code")
    acts = (Act("The books of a period", "/books/", door=""),)
    none = "Nothing was posted yet."


class BooksPage(ListPage):
    """The books of a period; this month's, until another is asked for."""

    door = period.BooksDoor
    template = "inventory/books.html"
    title = "Books"
    says = "What the stock was worth, what came and went, what it is worth: of a period."
    columns = (
        Column("posting", "Posting, for what", to="postings", note="document_code"),
        Column("at", "When"),
        Column("kind", "What, and outside", note="outside_kind"),
        Column("lot"),
        Column("item", note="item_name"),
        Column("amount"),
        Column("value"),
    )
    filters = ("from", "to")
    to = ""
    acts = (
        Act("Stock at the end of a day", "/books/stock/", door=""),
        Act("Postings", "/postings/", door=""),
        Act("Close the books", "/books-closings/new/"),
    )
    none = "Nothing was posted in these days."

    def _asked(self, request: HttpRequest) -> dict[str, str]:
        today = shop_day(timezone.now())
        month = {"from": f"{today:%Y-%m-01}", "to": f"{today}"}
        return {**month, **super()._asked(request)}

    def _context(self, asked: Mapping[str, str], listed: Mapping[str, Any]) -> dict[str, Any]:
        context = super()._context(asked, listed)
        if "outside" not in listed:  # the days were refused
            return context
        head = [(label, cell(name, listed[name])) for name, label in _HEAD.items()]
        lines = [
            {**row, "outside_kind": row["outside_kind"].replace("_", " ")}
            for row in listed["outside"]
        ]
        return {
            **context,
            "head": [(label, shown) for label, shown in head if shown.text],
            "table": drawn(_OUTSIDE, lines),
            "note": listed["note"],
        }


class StockOnPage(ListPage):
    """What we held at the end of a day; of yesterday, until another is asked for."""

    door = period.StockOnDoor
    title = "Stock at the end of a day"
    says = "A worksheet of direct material at cost; ask a licensed adviser."
    columns = (
        Column("item", note="item_name"),
        Column("kind"),
        Column("on_hand", "On hand"),
        Column("value"),
    )
    filters = ("on",)
    acts = (Act("The books of a period", "/books/", door=""),)
    none = "Nothing was on hand."

    def _asked(self, request: HttpRequest) -> dict[str, str]:
        yesterday = shop_day(timezone.now()) - timedelta(days=1)
        return {"on": f"{yesterday}", **super()._asked(request)}


class ClosingForm(ActPage):
    """The books are closed to a day."""

    door = books.BooksClosingsDoor
    title = "Close the books"
    says = (
        "Through a day that is over. Nothing can be posted into it any more, and it cannot be "
        "opened again."
    )
    done = "The books are closed through {through}."
    lands = "/books/"
    labels: ClassVar = {"through": "Through"}


urlpatterns = [
    path("postings/", PostingsPage.as_view()),
    path("books/", BooksPage.as_view()),
    path("books/stock/", StockOnPage.as_view()),
    path("books-closings/new/", ClosingForm.as_view()),
]
