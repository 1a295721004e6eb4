"""Pages of printings, and of what papers can be printed on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from django.urls import path

from batches.labels import selectors
from batches.labels.api import printings, stocks
from batches.labels.api.stocks import LENGTHS
from shopfloor.errors import NotFoundError
from shopfloor.screens import Act, ActPage, ChangePage, Column, ListPage, Table, ThingPage, ask

_STOCKS_MAX = 200


class PrintingsPage(ListPage):
    """Printings."""

    door = printings.PrintingsDoor
    title = "Printings"
    says = "Who had what printed. A paper that was printed before says that it is a reprint."
    columns = (
        Column("code", "Printing"),
        Column("title", "What"),
        Column("papers.code", "Of"),
        Column("paper_count", "Papers"),
        Column("copies"),
        Column("stock"),
        Column("at", "When", order="at"),
        Column("by"),
    )
    filters = ("paper",)
    acts = (
        Act("Print", "/printings/new/", is_main=True),
        Act("Label stocks", "/label-stocks/", door=""),
    )
    none = "Nothing was printed yet."


class PrintingPage(ThingPage):
    """One printing, and its file."""

    door = printings.PrintingDoor
    title = "Printing"
    hidden = ("kind",)
    labels: ClassVar = {"title": "What", "dpi": "Dots an inch", "at": "When"}
    tables = (Table("papers", "Papers", (Column("code", "Of"), Column("reprint"))),)

    def context(self, thing: Mapping[str, Any]) -> dict[str, Any]:
        """With the file."""
        papers = [("The file to print", f"/api/v1/printings/{thing['code']}.pdf")]
        return {**super().context(thing), "papers": papers}


class PrintingForm(ActPage):
    """What is printed, how often, on what."""

    door = printings.PrintingsDoor
    title = "Print"
    says = "Kept with your name; a paper that is printed again says so."
    button = "Make the file"
    done = "{code}: open the file and print it at its own size."
    first = ("kind", "codes", "copies", "stock", "start")
    later = ("dpi", "nudge_x_mm", "nudge_y_mm", "cut_marks")
    labels: ClassVar = {
        "kind": "What",
        "codes": "Of which",
        "start": "First free label of the sheet",
        "dpi": "Dots an inch of the printer",
        "nudge_x_mm": "Move right, mm",
        "nudge_y_mm": "Move down, mm",
        "cut_marks": "Mark the corners of labels",
    }
    helps: ClassVar = {
        "codes": "A code a line, in the order they are printed.",
        "stock": "Empty: what suits the paper.",
    }

    def choices(self) -> Mapping[str, Sequence[tuple[str, str]]]:
        """Papers by their names, and stocks in use."""
        listed = ask(self.request, "label-stocks/", page_size=_STOCKS_MAX)["results"]
        return {
            "kind": [(name, kind.title) for name, kind in sorted(selectors.PAPERS.items())],
            "stock": [(row["code"], row["code"]) for row in listed if row["is_active"]],
        }


class StocksPage(ListPage):
    """Label stocks."""

    door = stocks.StocksDoor
    title = "Label stocks"
    says = "Rolls and sheets that papers are printed on. The standing ones never change."
    columns = (
        Column("code", "Stock"),
        Column("label_width_mm", "Label wide, mm"),
        Column("label_height_mm", "Label high, mm"),
        Column("columns"),
        Column("rows"),
        Column("page_width_mm", "Page wide, mm"),
        Column("page_height_mm", "Page high, mm"),
        Column("is_standing", "Standing"),
        Column("is_active"),
    )
    to = "/label-stocks/{code}/change/"
    acts = (
        Act("Add a stock", "/label-stocks/new/", is_main=True),
        Act("Print", "/printings/new/"),
    )


_STOCK_WORDS = {
    "page_width": "Page, wide",
    "page_height": "Page, high",
    "label_width": "Label, wide",
    "label_height": "Label, high",
    "left": "Left edge to the first label",
    "top": "Top edge to the first label",
    "pitch_x": "Label to label, across",
    "pitch_y": "Label to label, down",
}


class StockForm(ActPage):
    """A stock by its dimensions."""

    door = stocks.StocksDoor
    title = "Add a stock"
    says = "Measure it. Then print its test page and hold it against a sheet."
    done = "{code} is added."
    lands = "/label-stocks/"
    first = ("code", "unit", "label_width", "label_height", "columns", "rows")
    later = ("is_active",)
    labels = _STOCK_WORDS


class StockChange(ChangePage):
    """A stock that lies a little differently."""

    door = stocks.ChangeStockDoor
    title = "Change a stock"
    says = "Lengths in millimeters."
    lands = "/label-stocks/"
    leaves = ("unit",)
    labels = _STOCK_WORDS

    def initial(self) -> dict[str, Any]:
        """The stock as it is; there is no address of one."""
        code = str(self.kwargs["code"])
        listed = ask(self.request, "label-stocks/", page_size=_STOCKS_MAX)["results"]
        found: dict[str, Any] = next((row for row in listed if row["code"] == code), {})
        if not found:
            raise NotFoundError("There is no stock of this code.", stock=code)
        lengths = {name: found.get(f"{name}_mm") for name in LENGTHS}
        return {**found, **lengths}


urlpatterns = [
    path("printings/", PrintingsPage.as_view()),
    path("printings/new/", PrintingForm.as_view()),
    path("printings/<str:code>/", PrintingPage.as_view()),
    path("label-stocks/", StocksPage.as_view()),
    path("label-stocks/new/", StockForm.as_view()),
    path("label-stocks/<str:code>/change/", StockChange.as_view()),
]
