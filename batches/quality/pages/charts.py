"""Pages that draw: the plan of a lot, and control charts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import path
from django.utils.safestring import SafeString, mark_safe

from batches.quality.api import doors
from batches.quality.pages.definitions import definitions_offered
from batches.quality.rules.drawing import (
    Point,
    characteristic,
    control_chart,
    laid_out,
    short,
    title_of,
)
from shopfloor.doors import PageDoor
from shopfloor.errors import ShopError
from shopfloor.problems import problem_of
from shopfloor.screens import Column, Table, ask, drawn
from shopfloor.screens.cells import cell
from shopfloor.screens.within import ROOT


class PlanPage(PageDoor):
    """How many pieces of a lot or batch to test now, what passes, and how often bad ones get by."""

    roles = doors.PlanDoor.roles

    def get(self, request: HttpRequest) -> HttpResponse:
        """The plan; first of which lot or batch."""
        asked = {name: request.GET.get(name, "") for name in ("definition", "lot", "batch")}
        context: dict[str, Any] = {"asked": asked, "definitions": definitions_offered(request)}
        if not (asked["definition"] and (asked["lot"] or asked["batch"])):
            return self.page("batches/check_plan.html", context)
        try:
            plan = ask(request, "checks/plan/", **asked)
        except ShopError as refused:
            context["problem"] = problem_of(refused)
            return self.page("batches/check_plan.html", context, status=refused.status)
        curve = sorted((row["failing_ratio"], row["accepted_ratio"]) for row in plan["curve"])
        columns = (
            Column("failing_pieces", "Failing pieces in it"),
            Column("accepted_ratio", "Passes"),
        )
        shown = _curve(curve) if curve else ""
        table = drawn(Table("of-this-lot", "This very lot", columns), _rounded(plan["of_this_lot"]))
        return self.page(
            "batches/check_plan.html", {**context, "plan": plan, "curve": shown, "table": table}
        )


def _rounded(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [{**row, "accepted_ratio": f"{row['accepted_ratio']:.4f}"} for row in rows]


def _curve(curve: list[tuple[float, float]]) -> SafeString:
    # Its own drawing: numbers, and one escaped title.
    return mark_safe(characteristic(curve, title="Lots that pass, by pieces that fail"))  # noqa: S308


class ChartPage(PageDoor):
    """Control charts of a check."""

    roles = doors.ChartDoor.roles

    def get(self, request: HttpRequest) -> HttpResponse:
        """The charts of some days; first of which check."""
        asked = {n: request.GET.get(n, "") for n in ("definition", "first_on", "last_on")}
        context: dict[str, Any] = {"asked": asked, "definitions": definitions_offered(request)}
        if not asked["definition"]:
            return self.page("batches/check_chart.html", context)
        try:
            said = ask(request, "checks/chart/", **asked)
        except ShopError as refused:
            context["problem"] = problem_of(refused)
            return self.page("batches/check_chart.html", context, status=refused.status)
        charts = [_drawn_chart(chart, said["unit"]) for chart in said["charts"]]
        context["asked"] = {name: said[name] for name in asked}
        context["paper"] = f"{ROOT}checks/chart.pdf?{urlencode(context['asked'])}"
        return self.page("batches/check_chart.html", {**context, "said": said, "charts": charts})


_POINTS = (
    Column("check"),
    Column("at", "When"),
    Column("measured", "Value"),
    Column("lower", "Lower limit"),
    Column("upper", "Upper limit"),
)


def _drawn_chart(chart: Mapping[str, Any], unit: str) -> dict[str, Any]:
    """A chart as a drawing, what its rules say, and the same as a table."""
    title = title_of(chart["kind"], unit)
    fired = {row["last"] for row in chart["fired"]}
    points = [
        Point(
            value=row["value"],
            lower=row["lower"],
            upper=row["upper"],
            words=f"{row['check']}, {cell('at', row['at']).text}: {short(row['value'])}",
            is_fired=row["check"] in fired,
        )
        for row in chart["points"]
    ]
    rows = [
        {
            **row,
            "measured": short(row["value"]),  # no money, whatever the member is called
            **{name: short(row[name]) for name in ("lower", "upper")},
        }
        for row in chart["points"]
    ]
    drawing = control_chart(laid_out(points, center=chart["center"]), title=title)
    return {
        "title": title,
        "svg": mark_safe(drawing),  # noqa: S308 - our own drawing; its words are escaped
        "center": short(chart["center"]),
        "fired": [{**row, "words": row["words"].rstrip(".")} for row in chart["fired"]],
        "table": drawn(Table(f"points-{chart['kind']}", title, _POINTS), rows),
    }


urlpatterns = [
    path("checks/plan/", PlanPage.as_view()),
    path("checks/chart/", ChartPage.as_view()),
]
