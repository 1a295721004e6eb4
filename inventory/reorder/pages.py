"""Pages of the reorder list: what to order, one item with its figures, what a person decides."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, ClassVar
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import path

from inventory.reorder import api
from shopfloor.doors import PageDoor
from shopfloor.screens import Act, ChangePage, Column, ListPage, Table, ThingPage, ask
from shopfloor.screens.charts import Mark, Point, course_chart

TICKED_MAX = 100


class ReorderListPage(ListPage):
    """What to reorder, the most urgent first; ticked lines become supplier orders."""

    door = api.ReorderDoor
    title = "Reorder"
    says = "The most urgent first. Tick what you order: the lines are sorted by supplier for you."
    columns = (
        Column("item", note="item_name"),
        Column("order_by", "Last day to order", order="order_by"),
        Column("supplier", "From", order="supplier"),
        Column("suggested_packs", "Packs"),
        Column("suggested", "That is"),
        Column("suggested_value", "Cost", order="suggested_value"),
        Column("in_short", "Why"),
    )
    filters = ("is_due", "has_advice", "supplier", "kind")
    preset: ClassVar = {"is_due": "true"}
    acts = (Act("Order something else", "/supplier-orders/new/"),)
    none = "Nothing has to be ordered today."
    to = "/reorder/"
    template = "inventory/reorder.html"


class ReorderTickedPage(PageDoor):
    """The ticked lines by supplier, each a filled-in order; straight to it where there is one."""

    roles: ClassVar = {"GET": api.ReorderDoor.roles["GET"]}

    def get(self, request: HttpRequest) -> HttpResponse:
        """Sort them."""
        ticked = list(dict.fromkeys(request.GET.getlist("item")))[:TICKED_MAX]
        listed = ask(request, "reorder/", page_size=1000)["results"] if ticked else []
        found: dict[str, list[dict[str, Any]]] = defaultdict(list)
        for row in listed:
            if row["item"] in ticked and row["supplier"]:
                found[row["supplier"]].append(row)
        orders = [_order(supplier, rows) for supplier, rows in found.items()]
        if len(orders) == 1:
            return HttpResponseRedirect(orders[0]["address"])
        placed = {row["item"] for rows in found.values() for row in rows}
        return self.page(
            "inventory/reorder_ticked.html",
            {"orders": orders, "without": [item for item in ticked if item not in placed]},
        )


def _order(supplier: str, rows: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    filled = {"supplier": supplier}
    for at, row in enumerate(rows):
        filled[f"lines.{at}.item"] = row["item"]
        filled[f"lines.{at}.packs"] = row["suggested_packs"] or row["offer"]["packs_min"]
    return {
        "supplier": supplier,
        "name": rows[0]["offer"]["supplier_name"],
        "items": [f"{row['item']} {row['item_name']}" for row in rows],
        "address": f"/supplier-orders/new/?{urlencode(filled)}",
    }


class ReorderItemPage(ThingPage):
    """One item: what to do, why, and every figure the advice rests on."""

    door = api.ReorderItemDoor
    title = "Reorder"
    inner = "row"
    template = "inventory/reorder_item.html"
    facts = (
        *("position", "usable", "quarantined", "on_order", "promised", "expiring"),
        *("use_per_day", "use_per_day_sd", "lead_time_days", "lead_time_sd_days"),
        *("reorder_point", "safety_stock", "service_level", "review_days"),
        *("pack", "supplier", "order_cost", "holding_ratio_per_year", "shelf_life_days"),
        *("history_from", "history_days"),
    )
    labels: ClassVar = {
        "position": "Position: usable, in quarantine and on order, less promised and expiring",
        "usable": "Usable now",
        "quarantined": "Waiting for its test",
        "expiring": "Expires before it can be used",
        "use_per_day": "Use of a day, mean",
        "use_per_day_sd": "Use of a day, standard deviation",
        "lead_time_days": "Days from order to receipt, mean",
        "lead_time_sd_days": "Days from order to receipt, standard deviation",
        "safety_stock": "Safety stock, in the reorder point",
        "service_level": "Share of order cycles without a shortage",
        "review_days": "Days between two looks at the list",
        "holding_ratio_per_year": "Share of its value that a year on the shelf costs",
        "supplier": "Would be ordered from",
        "history_from": "Use is known from",
        "history_days": "Days of use known",
    }
    tables = (
        Table(
            "to_come",
            "On order",
            (
                Column("order", to="supplier-orders"),
                Column("promised_on", "Promised"),
                Column("amount"),
            ),
        ),
        Table("price_breaks", "Prices"),
        Table("course", "Stock ahead, as figures"),
    )
    acts = (
        Act("What a person decides", "policy/"),
        Act("The item", "/items/{item}/", door=""),
        Act("Its lots", "/lots/?item={item}&is_on_hand=true", door=""),
    )

    def heading(self, thing: Mapping[str, Any]) -> str:
        """The item."""
        return f"{thing['item']} {thing['item_name']}"

    def context(self, thing: Mapping[str, Any]) -> dict[str, Any]:
        """With the order filled in, and stock ahead as a chart."""
        return {
            **super().context(thing),
            "order": _order(thing["supplier"], [thing]) if thing["supplier"] else None,
            "chart": _chart(thing) if len(thing["course"]) > 1 else "",
        }


def _chart(thing: Mapping[str, Any]) -> str:
    points = [
        Point(date.fromisoformat(each["on"]), *(_number(each[name]) for name in _BAND))
        for each in thing["course"]
    ]
    unit = thing["position"]["unit"]
    last_on = points[-1].on
    marks = [
        Mark(on, f"{line['order']} comes")
        for line in thing["to_come"]
        if line["promised_on"]
        and points[0].on < (on := date.fromisoformat(line["promised_on"])) <= last_on
    ]
    order_by = thing["order_by"] and date.fromisoformat(thing["order_by"])
    if order_by and points[0].on < order_by <= last_on:
        marks.append(Mark(order_by, "last day to order"))
    point = thing["reorder_point"]
    end = points[-1]
    return course_chart(
        points,
        level=None if point is None else _number(point),
        level_label="reorder point",
        marks=sorted(marks),
        title=f"Stock ahead of {thing['item']} in {unit}, if nothing more is ordered",
        about=f"On {end.on} {end.mean:,.6g} at the mean use, between {end.low:,.6g} and "
        f"{end.high:,.6g} nine times of ten.",
    )


_BAND = ("mean", "low", "high")


def _number(amount: Mapping[str, str]) -> float:
    return float(amount["amount"])


class PolicyForm(ChangePage):
    """What a person decides about reordering an item."""

    door = api.PolicyDoor
    title = "What a person decides"
    says = "Empty: the shop's default, or the computed figure, holds. Who changed what is kept."
    labels: ClassVar = {
        "service_level": "Share of order cycles without a shortage, above 0.5",
        "review_days": "Days between two looks at the list",
        "reorder_point": "Reorder point in place of the computed one",
        "order_cost": "Cost of placing and receiving one order",
        "holding_ratio_per_year": "Share of its value that a year on the shelf costs",
        "is_watched": "In the list",
    }
    helps: ClassVar = {"is_watched": "Not ticked: never in the list."}

    def initial(self) -> dict[str, Any]:
        """What was set."""
        page = ask(self.request, self.thing_address())
        return {**(page["policy"] or {}), "is_watched": page["is_watched"]}


urlpatterns = [
    path("reorder/", ReorderListPage.as_view()),
    path("reorder/ticked/", ReorderTickedPage.as_view()),
    path("reorder/<str:code>/", ReorderItemPage.as_view()),
    path("reorder/<str:code>/policy/", PolicyForm.as_view()),
]
