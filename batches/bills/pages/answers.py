"""Pages that answer questions about bills: what differs, what it costs, where it is used."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, ClassVar

from django.http import HttpRequest
from django.urls import path

from batches.bills.api import bills
from batches.bills.pages.bills import LINE_WORDS, readable
from shopfloor.screens import Act, Column, Table, ThingPage, ask, drawn
from shopfloor.screens.cells import rounded

_BILL = Act("The bill", "/bills/{code}/", door="")


class _Answer(ThingPage):
    """A question about one item's bill."""

    acts = (_BILL,)

    def thing(self, request: HttpRequest) -> Mapping[str, Any]:
        """The answer under the item's code and name."""
        said = super().thing(request)
        return {**said, "code": said["item"]["code"], "name": said["item"]["name"]}


class ComparePage(_Answer):
    """Two revisions side by side."""

    door = bills.BillCompareDoor
    template = "batches/bill_compare.html"
    title = "Compare revisions of"
    facts = ("nothing",)
    tables = ()

    def thing(self, request: HttpRequest) -> Mapping[str, Any]:
        """What differs, a row a difference; the newest two revisions where none are named."""
        bill = ask(request, f"bills/{self.kwargs['item']}/")
        numbers = sorted(row["number"] for row in bill["revisions"])
        a = request.GET.get("a", "") or str(numbers[-2:][0])
        b = request.GET.get("b", "") or str(numbers[-1])
        said = ask(request, request.path.removeprefix("/"), a=a, b=b)
        return {
            **said,
            "code": said["item"]["code"],
            "name": said["item"]["name"],
            "numbers": numbers,
            "differences": list(_differences(said)),
        }

    def context(self, thing: Mapping[str, Any]) -> dict[str, Any]:
        """With both revisions as columns."""
        columns = (
            Column("item", note="name"),
            Column("what"),
            Column("a", f"Revision {thing['a']}"),
            Column("b", f"Revision {thing['b']}"),
        )
        table = Table("differences", "What differs", columns, none="They say the same.")
        return {**super().context(thing), "tables": [drawn(table, thing["differences"])]}


def _differences(said: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    if said["scrap_ratio_a"] != said["scrap_ratio_b"]:
        yield {
            "what": "Pieces lost",
            "a": {"scrap_ratio": said["scrap_ratio_a"]},
            "b": {"scrap_ratio": said["scrap_ratio_b"]},
        }
    for name, words in (("dropped", "No longer taken"), ("added", "New")):
        for line in map(readable, said[name]):
            side = "a" if name == "dropped" else "b"
            yield {**_named(line), "what": words, side: line["takes"]}
    for change in said["changed"]:
        before, after = readable(change["before"]), readable(change["after"])
        for name, words in LINE_WORDS.items():
            if before[name] != after[name]:
                yield {**_named(after), "what": words, "a": before[name], "b": after[name]}


def _named(line: Mapping[str, Any]) -> dict[str, Any]:
    return {"item": line["item"], "name": line["name"]}


class CostPage(_Answer):
    """What an item's material costs."""

    door = bills.BillCostDoor
    template = "batches/bill_cost.html"
    title = "Material cost of"
    facts = ("revision", "makes", "cost", "from", "unknown")
    labels: ClassVar = {"makes": "For", "from": "Taken from", "unknown": "Of unknown cost"}
    tables = (
        Table(
            "lines",
            "Level by level",
            (
                Column("level"),
                Column("item"),
                Column("need"),
                Column("at", "Cost of a unit"),
                Column("cost"),
                Column("from", "Taken from"),
            ),
            none="It has no bill: its cost is that of buying it.",
        ),
    )

    def thing(self, request: HttpRequest) -> Mapping[str, Any]:
        """The cost sheet, sources in words."""
        said = super().thing(request)
        lines = [
            {
                **line,
                "need": rounded(line["need"]),
                "from": _source(line["source"]),
                "at": _unit_cost(line["unit_cost"]),
            }
            for line in said["lines"]
        ]
        return {**said, "from": _source(said["source"]), "lines": lines}

    def context(self, thing: Mapping[str, Any]) -> dict[str, Any]:
        """With what was asked."""
        return {**super().context(thing), "asked": self.request.GET.dict()}


def _source(source: Mapping[str, Any]) -> str:
    return " ".join(filter(None, (source["kind"], source["code"]))).replace("_", " ")


def _unit_cost(unit_cost: Mapping[str, Any] | None) -> Mapping[str, Any] | None:
    return None if unit_cost is None else {"takes": unit_cost["value"], "makes": unit_cost["per"]}


class WhereUsedPage(_Answer):
    """Where an item is used."""

    door = bills.WhereUsedDoor
    title = "Where it is used:"
    facts = ("nothing",)
    acts = (Act("The item", "/items/{code}/", door=""),)
    tables = (
        Table(
            "uses",
            "What it goes into",
            (
                Column("item"),
                Column("stage"),
                Column("level"),
                Column("need", "Takes of it"),
                Column("need_at_most", "At most"),
                Column("through"),
            ),
            none="No current bill takes it.",
        ),
    )


urlpatterns = [
    path("bills/<str:item>/compare/", ComparePage.as_view()),
    path("bills/<str:item>/cost/", CostPage.as_view()),
    path("bills/<str:item>/where-used/", WhereUsedPage.as_view()),
]
