"""Pages of checks: a test at the bench, and what was found."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, ClassVar
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import path

from batches.quality.api import doors
from batches.quality.pages.definitions import definitions_offered
from shopfloor.errors import ConflictError, ShopError
from shopfloor.problems import problem_of
from shopfloor.screens import FILLED, Act, ActPage, Column, ListPage, Table, ThingPage, ask


class ChecksPage(ListPage):
    """Checks."""

    door = doors.ChecksDoor
    title = "Checks"
    columns = (
        Column("code", "Check"),
        Column("at", "When", order="at"),
        Column("definition", to="check-definitions"),
        Column("lot"),
        Column("batch"),
        Column("tested"),
        Column("failed"),
        Column("is_passed", "Verdict"),
        Column("by"),
        Column("replaced_by", to="checks"),
    )
    filters = ("definition", "lot", "batch", "is_passed")
    preset: ClassVar = {"ordering": "-at"}
    acts = (
        Act("Record a check", "/checks/new/", is_main=True),
        Act("Definitions", "/check-definitions/", door=""),
        Act("Control charts", "/checks/chart/", door=""),
    )
    none = "Nothing was tested yet."


class CheckPage(ThingPage):
    """One check with its results."""

    door = doors.CheckDoor
    title = "Check"
    labels: ClassVar = {
        "is_passed": "Verdict",
        "at": "When",
        "lot_pieces": "Pieces of the lot",
        "plan_pieces": "To be tested",
        "accept": "May fail",
        "reject": "Fails from",
        "letter": "Code letter",
        "holds": "Holds it placed",
    }
    hidden = ("hold",)
    to: ClassVar = {
        "definition": "check-definitions",
        "replaces": "checks",
        "replaced_by": "checks",
    }
    tables = (
        Table(
            "results",
            "Results",
            (
                Column("equipment", "Cavity or station"),
                Column("tested"),
                Column("failed"),
                Column("measured", "Value"),
            ),
        ),
    )
    acts = (
        Act("Its hold", "/holds/{hold}/", {"hold": FILLED}, door="", is_main=True),
        Act("Control chart", "/checks/chart/?definition={definition}", door=""),
        Act("Trace the lot", "/trace/?code={lot}", {"lot": FILLED}, door=""),
        Act(
            "Write it down anew",
            "/checks/new/?definition={definition}&lot={lot}&replaces={code}",
            {"replaced_by": [None], "lot": FILLED},
        ),
        Act(
            "Write it down anew",
            "/checks/new/?definition={definition}&batch={batch}&replaces={code}",
            {"replaced_by": [None], "lot": [None]},
        ),
        Act("Trace the batch", "/trace/?code={batch}", {"lot": [None]}, door=""),
    )

    def thing(self, request: HttpRequest) -> Mapping[str, Any]:
        """With its first hold at hand; what was measured is no money."""
        said = super().thing(request)
        results = [{**each, "measured": each["value"]} for each in said["results"]]
        return {**said, "hold": next(iter(said["holds"]), None), "results": results}


class CheckForm(ActPage):
    """A test at the bench: which, of which lot or whole batch; then what was found."""

    door = doors.ChecksDoor
    template = "batches/check.html"
    title = "Record a check"
    button = "Save the check"
    done = "{code} is saved."
    labels: ClassVar = {
        "results": "What was found",
        "results.equipment": "Cavity or station",
        "reason": "Note",
    }
    later = ("at", "reason", "replaces")
    rows = 0

    def get(self, request: HttpRequest, **address: object) -> HttpResponse:
        """First which check of which lot or batch, then the form."""
        asked = request.GET
        try:
            if asked.get("definition") and asked.get("of"):
                return HttpResponseRedirect(self._form_of(asked["of"]))
            if not (asked.get("definition") and (asked.get("lot") or asked.get("batch"))):
                return self._asks(None)
            return super().get(request, **address)
        except ShopError as refused:
            return self._asks(refused)

    def _form_of(self, code: str) -> str:
        """Where the form for what was scanned stands.

        Raises:
            ConflictError: it is neither a lot nor a batch.
        """
        found = ask(self.request, "scan/", code=code)
        if found["kind"] not in {"lot", "batch"}:
            raise ConflictError(f"{found['meaning']} Scan a lot, or a batch.")
        asked = {name: self.request.GET.get(name, "") for name in ("definition", "replaces")}
        asked[found["kind"]] = found["code"]
        query = urlencode({name: text for name, text in asked.items() if text})
        return f"{self.request.path}?{query}"

    def _asks(self, refused: ShopError | None) -> HttpResponse:
        context = {
            "title": self.title,
            "asked": self.request.GET,
            "of": next(filter(None, map(self.request.GET.get, ("of", "lot", "batch"))), ""),
            "definitions": definitions_offered(self.request),
            "problem": None if refused is None else problem_of(refused),
        }
        return self.page(
            "batches/check_of.html", context, status=refused.status if refused else 200
        )

    def left_out(self) -> Collection[str]:
        """What is asked before, and what another kind of check has."""
        before = ("definition", "lot", "batch")
        if self._definition()["kind"] == "measured":
            return (*before, "results")
        return (*before, "results.value")

    def initial(self) -> dict[str, Any]:
        """What the plan asks for in one row; by station a row each."""
        plan = self._plan()
        if self.request.GET.get("by") == "station":
            return {"results": [{"equipment": code} for code in plan["stations"]]}
        return {"results": [{"tested": plan["test_pieces"], "failed": 0}]}

    def body(self, shape: Any, entered: Mapping[str, Any]) -> Any:
        """Values stand in one field, as a scale types them; what was not tested is left out."""
        body = super().body(shape, entered)
        if "values" in entered:
            body["results"] = [{"value": text} for text in str(entered["values"]).split()]
        else:
            body["results"] = [row for row in body.get("results", []) if row.keys() - {"equipment"}]
        return body

    def context(self) -> dict[str, Any]:
        """What is tested and what passes."""
        values = self.request.POST.get("values", "")
        plan = self._plan()
        kind = "lot" if plan["lot"] else "batch"
        named = {kind: plan[kind]}
        return {
            "definition": self._definition(),
            "plan": plan,
            "values": values,
            "of": plan[kind],
            "query": urlencode({"definition": plan["definition"], **named}),
            "named": named,
            "is_by_station": self.request.GET.get("by") == "station",
        }

    def _given(self, name: str) -> str:
        return self.request.POST.get(name) or self.request.GET.get(name, "")

    def _definition(self) -> Mapping[str, Any]:
        if not hasattr(self, "_kept_definition"):
            self._kept_definition = ask(
                self.request, f"check-definitions/{self._given('definition')}/"
            )
        found: Mapping[str, Any] = self._kept_definition
        return found

    def _plan(self) -> Mapping[str, Any]:
        if not hasattr(self, "_kept_plan"):
            asked = {name: self._given(name) for name in ("definition", "lot", "batch")}
            self._kept_plan = ask(self.request, "checks/plan/", **asked)
        found: Mapping[str, Any] = self._kept_plan
        return found


urlpatterns = [
    path("checks/", ChecksPage.as_view()),
    path("checks/new/", CheckForm.as_view()),
    path("checks/<str:code>/", CheckPage.as_view()),
]
