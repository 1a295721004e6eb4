"""Pages of the reorder list: what to order, one item with its figures, what a person decides."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, ClassVar
from urllib.parse import urlencode

from django.urls import path

from inventory.reorder.api import doors
from shopfloor.screens import Act, ChangePage, Column, ListPage, Table, ThingPage, acts_for
from shopfloor.screens.charts import Mark, Point, course_chart


class ReorderListPage(ListPage):
    """What to reorder, the most urgent first."""

    door = doors.ReorderDoor
    title = "Reorder"
    says = "The most urgent first. Each item has its figures, and why."
    columns = (
        Column("item", note="item_name"),
        Column("order_by", "Last day to order", order="order_by", note="in_short"),
        Column("supplier", "From", order="supplier"),
        Column("suggested_packs", "Packs"),
        Column("suggested", "That is"),
        Column("suggested_value", "Cost", order="suggested_value"),
    )
    filters = ("is_due", "has_advice", "supplier", "kind")
    preset: ClassVar = {"is_due": "true"}
    acts = (
        Act("Order what is due", "/planning/suggested-orders/", is_main=True),
        Act("Order something else", "/supplier-orders/new/"),
    )
    none = "Nothing has to be ordered today."
    to = "/reorder/"


class ReorderItemPage(ThingPage):
    """One item: what to do, why, and every figure the advice rests on."""

    door = doors.ReorderItemDoor
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
        said = super().context(thing)
        order = acts_for(self.request, _order(thing), "", {})
        chart = _chart(thing) if len(thing["course"]) > 1 else ""
        return {**said, "acts": [*order, *said["acts"]], "chart": chart}


def _order(thing: Mapping[str, Any]) -> list[Act]:
    """The form of an order with this line, where somebody offers it."""
    supplier = thing["supplier"]
    if not supplier:
        return []
    packs = thing["suggested_packs"] or thing["offer"]["packs_min"]
    filled = {"supplier": supplier, "lines.0.item": thing["item"], "lines.0.packs": packs}
    address = f"/supplier-orders/new/?{urlencode(filled)}"
    return [Act(f"Order it from {supplier}", address, is_main=thing["is_due"])]


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

    door = doors.PolicyDoor
    title = "What a person decides"
    says = "Empty: the shop's default, or the computed figure, holds. Who changed what is kept."
    labels: ClassVar = {
        "service_level": "Share of order cycles without a shortage, above 0.5",
        "review_days": "Days between two looks at the list",
        "reorder_point": "Reorder point in place of the computed one",
        "order_cost": "Cost of placing and receiving one order",
        "holding_ratio_per_year": "Share of its value that a year on the shelf costs",
        "room": "Most that there is room for",
        "order_value_max": "Most to spend on one order",
        "is_watched": "In the list",
    }
    helps: ClassVar = {"is_watched": "Not ticked: never in the list."}

    def initial(self) -> dict[str, Any]:
        """What was set."""
        return {**(self.thing["policy"] or {}), "is_watched": self.thing["is_watched"]}


urlpatterns = [
    path("reorder/", ReorderListPage.as_view()),
    path("reorder/<str:code>/", ReorderItemPage.as_view()),
    path("reorder/<str:code>/policy/", PolicyForm.as_view()),
]
