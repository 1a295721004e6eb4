"""Pages of the trace: where something came from and went, and what failures have in common."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from operator import itemgetter
from typing import Any, ClassVar, Final
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import path
from django.utils.safestring import mark_safe

from batches.trace.api import causes, traces
from batches.trace.api.shapes import STARTS
from batches.trace.rules.wording import share
from shopfloor.doors import PageDoor
from shopfloor.errors import ShopError
from shopfloor.problems import problem_of
from shopfloor.screens import Act, Button, Column, Table, acts_for, ask, drawn
from shopfloor.screens.cells import Cell
from shopfloor.screens.charts import Pair, pairs_chart

DOWN, UP = "downstream", "upstream"
WAYS: Final = {DOWN: "Where it went", UP: "What went in"}
LAYERS_MAX: Final = 500
ROWS_MAX: Final = 200
"""Of lots, and of each other table; the sheets have all."""
PARTS_MAX: Final = 8
"""Exposures on the chart; the table has all that are told."""

LAYERS = Table(
    "nodes",
    "Lots, layer by layer",
    (
        Column("code", "Lot"),
        Column("depth", "Postings away"),
        Column("item", note="name"),
        Column("whole", "All of it"),
        Column("part.by_share", "Meant, by share"),
        Column("part.up_to", "At most"),
        Column("disposition"),
        Column("on_hand", "Still here"),
        Column("place"),
        Column("supplier_lot_code", "The supplier's lot"),
    ),
)
RUNS = Table(
    "batches",
    "Batches",
    (
        Column("batch"),
        Column("stage"),
        Column("item", note="item_name"),
        Column("first_at", "From"),
        Column("last_at", "To"),
        Column("made"),
        Column("scrapped"),
    ),
)
BECAME = (
    Table(
        "totals",
        "What became of it",
        (
            Column("item"),
            Column("became"),
            Column("lots"),
            Column("amount", "All of these lots"),
            Column("part.by_share", "Of it, by share"),
            Column("part.up_to", "At most"),
        ),
        "Nothing came of it yet.",
    ),
    Table(
        "shipments",
        "Shipped",
        (
            Column("customer", note="customer_name"),
            Column("shipment"),
            Column("at", "Left"),
            Column("item"),
            Column("amount"),
            Column("returned"),
            Column("boxes"),
        ),
        "Nothing of it left the shop.",
    ),
    Table("on_hand", "Still here"),
    Table("boxes", "In boxes"),
    Table(
        "scrapped", "Scrapped", (Column("batch"), Column("reason_name", "Why"), Column("amount"))
    ),
)
RECEIPTS = Table("receipts", "How it came in")


class TracePage(PageDoor):
    """Scan anything: where it went, or what went in, drawn and as tables."""

    roles: ClassVar = {"GET": traces.DownstreamDoor.roles["GET"]}

    def get(self, request: HttpRequest) -> HttpResponse:
        """The page; without a code the field to scan into."""
        code = request.GET.get("code", "").strip()
        if not code:
            return self._page({})
        try:
            found = ask(request, "scan/", code=code)
            if found["kind"] not in STARTS:
                return self._page({"code": code, "found": found})
            return self._page({"code": code, **self._traced(found)})
        except ShopError as refused:
            problem = problem_of(refused)
            return self._page({"code": code, "problem": problem}, status=refused.status)

    def _page(self, context: Mapping[str, Any], *, status: int = 200) -> HttpResponse:
        return self.page("batches/trace.html", context, status=status)

    def _traced(self, found: Mapping[str, Any]) -> dict[str, Any]:
        kind, code = found["kind"], found["code"]
        way = self.request.GET.get("way") or (UP if kind == "box" else DOWN)
        way = way if way in WAYS else DOWN
        opened = self.request.GET.get("open", "")
        said = ask(self.request, f"trace/{way}/", **{kind: code}, drawing="true", open=opened)
        return {
            "start": said["start"],
            "kind": kind,
            "way": way,
            "directions": [
                (words, f"?{urlencode({'code': code, 'way': name})}", name == way)
                for name, words in WAYS.items()
            ],
            "lots": len(said["nodes"]),
            "customers": len({row["customer"] for row in said.get("shipments", [])}),
            "drawing": mark_safe(said["drawing"]),  # noqa: S308 - the door escaped its texts
            "shut": f"?{urlencode({'code': code, 'way': way})}#drawn" if opened else "",
            "parts": list(_tables(said, way, urlencode({kind: code}))),
            "acts": acts_for(self.request, _acts(kind), "/trace/", {"code": code}),
            "files": [
                (words, f"/api/v1/trace/{way}{path}?{urlencode({kind: code, **more})}")
                for words, path, more in FILES
            ],
        }


FILES: Final[Sequence[tuple[str, str, Mapping[str, str]]]] = (
    ("PDF", ".pdf", {}),
    ("CSV", "/", {"format": "csv"}),
    ("XLSX", "/", {"format": "xlsx"}),
    ("SVG", "/", {"format": "svg"}),
    ("EPCIS", "/", {"format": "epcis"}),
)


def _acts(kind: str) -> list[Act]:
    plural = {"lot": "lots", "batch": "batches", "box": "boxes"}[kind]
    acts = [
        Act("Begin a recall of it", f"/recalls/new/?{plural}={{code}}", is_main=True),
        Act(f"All of the {kind}", f"/{plural}/{{code}}/", door=""),
    ]
    return [Act("Hold it", "/lots/{code}/hold/"), *acts] if kind == "lot" else acts


def _tables(said: Mapping[str, Any], way: str, start: str) -> Iterator[dict[str, Any]]:
    """Each table, how many rows there are, and where all of them are."""
    for table in (*BECAME, LAYERS, RUNS) if way == DOWN else (RECEIPTS, LAYERS, RUNS):
        rows = said.get(table.name) or []
        if not rows and not table.none:
            continue
        made = drawn(table, rows[: LAYERS_MAX if table is LAYERS else ROWS_MAX])
        if table is LAYERS:
            made = made._replace(rows=[[_again(row[0], way), *row[1:]] for row in made.rows])
        sheet = f"/api/v1/trace/{way}/?{start}&format=csv&rows={table.name}"
        yield {"table": made, "count": len(rows), "sheet": sheet}


def _again(lot: Cell, way: str) -> Cell:
    """A lot that the trace is begun again from."""
    return lot._replace(address=f"?{urlencode({'code': lot.text, 'way': way})}")


class CausesPage(PageDoor):
    """What pieces with a defect have in common: in words, as a chart, in a table, what to do."""

    roles: ClassVar = {"GET": causes.CausesDoor.roles["GET"]}

    def get(self, request: HttpRequest) -> HttpResponse:
        """The page; without a defect the form alone."""
        asked: dict[str, Any] = {name: request.GET.get(name, "").strip() for name in ASKED}
        asked["complaint"] = request.GET.getlist("complaint")
        context: dict[str, Any] = {"asked": asked, "sources": SOURCES}
        status = 200
        if asked["defect"]:
            try:
                context |= self._found(asked)
                context["complaints"] = self._complaints(asked)
            except ShopError as refused:
                context["problem"], status = problem_of(refused), refused.status
                context["stages"] = refused.facts.get("stages")
                context["complaints"] = [(code, "", True) for code in asked["complaint"]]
        return self.page("batches/causes.html", context, status=status)

    def _complaints(self, asked: Mapping[str, Any]) -> list[tuple[str, str, bool]]:
        """The newest of the defect, to choose from, and what was chosen."""
        told = ask(self.request, "complaints/", defect=asked["defect"], is_replaced="false")
        words = {
            row["code"]: ", ".join(filter(None, (row["told_on"], row["customer"], row["box"])))
            for row in told["results"]
        }
        codes = dict.fromkeys([*asked["complaint"], *words])
        return [(code, words.get(code, ""), code in asked["complaint"]) for code in codes]

    def _found(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        chosen = ",".join(asked["complaint"])
        named = {name: asked[name] for name in ASKED}
        said = ask(self.request, "trace/causes/", **named, complaints=chosen)
        looked = [
            each
            for cause in said["causes"]
            for each in (cause["exposure"], *cause["cannot_tell_from"])
        ] or said["nearest"]
        counted = [row for row in said["complaints"] if not row["left_out"]]
        firm = [
            cause
            for cause in said["causes"]
            if not cause["is_too_few"] and (cause["complaints_with"] or not asked["complaint"])
        ]
        return {
            "said": said,
            "counted": len(counted),
            "counted_pieces": sum(row["pieces"] for row in counted),
            "left_out": sorted(
                (row for row in said["complaints"] if row["left_out"]), key=itemgetter("left_out")
            ),
            "has_told": not all(cause["is_too_few"] for cause in said["causes"]),
            "tests": [test for cause in said["causes"] for test in cause["tests"]],
            "chart": pairs_chart(
                [_pair(each) for each in looked[:PARTS_MAX]],
                title=f"Share that failed of {said['defect_name']}",
                about="With each suspect and without it; the table below has the same.",
            )
            if looked
            else "",
            "table": drawn(EXPOSURES, [_shares(each) for each in said["exposures"]]),
            "acts": suspect_acts(
                self.request,
                [cause["exposure"] for cause in firm],
                first_on=said["first_on"],
                last_on=said["last_on"],
            ),
        }


ASKED: Final = ("defect", "first_on", "last_on", "stage", "source")
SOURCES: Final = (
    ("scrap", "only what was scrapped at the bench"),
    ("checks", "only checks"),
    ("complaints", "only customers"),
)
EXPOSURES = Table(
    "exposures",
    "All that was compared",
    (
        Column("kind", "What"),
        Column("name"),
        Column("rate_ratio", "Failed with it"),
        Column("counts", "Pieces"),
        Column("other_ratio", "Without it"),
        Column("times", "Times as often"),
        Column("left", "Beside the causes found"),
        Column("chance", "False finds among such"),
        Column("together", "Always went with"),
    ),
)


def _shares(each: Mapping[str, Any]) -> dict[str, Any]:
    low, high = each["ratio_low"], each["ratio_high"]
    times = "" if each["ratio"] is None else f"{each['ratio']:.1f}"
    if times and low is not None and high is not None:
        times = f"{times} ({low:.1f} to {high:.1f})"
    return {
        "kind": each["kind"],
        "name": each["name"],
        "rate_ratio": _share(each["rate_with"]),
        "counts": f"{each['failed_with']:,} of {each['tested_with']:,}",
        "other_ratio": _share(each["rate_without"]),
        "times": times,
        "left": "" if each["left"] is None else f"{each['left']:.1f}",
        "chance": f"{each['false_share']:.1%}".replace("0.0%", "under 0.1%"),
        "together": each["together"],
    }


def _share(rate: float | None) -> str:
    return "" if rate is None else f"{rate:.3f}"


def _pair(each: Mapping[str, Any]) -> Pair:
    shown = [
        f"{share(rate or 0)} {words} it: {each[f'failed_{words}']:,} of {each[f'tested_{words}']:,}"
        for words, rate in (("with", each["rate_with"]), ("without", each["rate_without"]))
    ]
    return Pair(
        label=f"{each['kind']} {each['name']}",
        share=each["rate_with"] or 0.0,
        text=shown[0],
        other_share=each["rate_without"] or 0.0,
        other_text=shown[1],
    )


EQUIPMENT: Final = frozenset({"station", "cavity", "equipment", "press", "mold", "wheel", "booth"})


def suspect_acts(
    request: HttpRequest,
    exposures: Sequence[Mapping[str, Any]],
    *,
    first_on: str = "",
    last_on: str = "",
) -> list[Button]:
    """What can be done about suspects: hold a lot, begin a recall of it or of what it made.

    Args:
        request: Who is signed in decides.
        exposures: Their kinds and names.
        first_on: First of the days looked at, for equipment.
        last_on: Last of them.
    """
    acts = []
    for each in exposures:
        name = each["name"]
        if each["kind"] == "lot":
            acts += [
                Act(f"Hold {name}", f"/lots/{name}/hold/"),
                Act(f"Begin a recall of {name}", f"/recalls/new/?{urlencode({'lots': name})}"),
            ]
        elif each["kind"] in EQUIPMENT:
            begun = {"equipment": name, "first_on": first_on, "last_on": last_on}
            acts.append(
                Act(f"Begin a recall of what {name} made", f"/recalls/new/?{urlencode(begun)}")
            )
    return acts_for(request, acts, "", {})


urlpatterns = [
    path("trace/", TracePage.as_view()),
    path("trace/causes/", CausesPage.as_view()),
]
