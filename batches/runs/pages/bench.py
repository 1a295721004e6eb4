"""Pages of the bench: the line of stages, what can be made at one, and recording a run of it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, ClassVar, Final
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import path

from batches.runs.api import bench, doors
from shopfloor.days import shop_moment
from shopfloor.doors import PageDoor
from shopfloor.doors.body import refuse_unclear
from shopfloor.doors.once import KEY_FIELD
from shopfloor.errors import ShopError
from shopfloor.problems import problem_of
from shopfloor.screens import ask, may, tell
from shopfloor.screens.blame import blamed
from shopfloor.screens.cells import amount, cell, words
from shopfloor.screens.inputs import Input

SHARE_WIDTH: Final = 100
BILLS_MOST: Final = 200
OPEN_MOST: Final = 200
TIMER_MINUTES: Final = (1, 2, 5, 10, 15, 20, 30, 45, 60, 90)
_CODE: Final = r"[A-Za-z0-9][\w.-]*"
_RUN_PAGE: Final = re.compile(rf"/bench/{_CODE}/({_CODE})/", re.ASCII)
MIXED_IN: Final = ("g", "kg", "mL", "L", "oz")
MAKES_READY: Final = {"planned": "start", "idle": "start", "held": "resume"}
"""What makes a batch take entries, by its state."""


class StageLinePage(PageDoor):
    """The stages in order: what waits before each, what runs, how much came out good."""

    roles: ClassVar = bench.StageLineDoor.roles

    def get(self, request: HttpRequest) -> HttpResponse:
        """The line."""
        line = ask(request, "stage-line/", **request.GET.dict())
        stages = [
            {
                **stage,
                "waiting_text": _waiting(stage["waiting"]),
                "yield_text": cell("yield_ratio", stage["yield_ratio"]).text,
                "yield_width": _width(stage["yield_ratio"]),
                "to_start": stage["batches"]["planned"] + stage["batches"]["idle"],
            }
            for stage in line["stages"]
        ]
        context = {"stages": stages, "days": line["days"]}
        return self.page("batches/bench_line.html", context)


class StageBenchPage(PageDoor):
    """What can be made at a stage: its open batches, or a new one."""

    roles: ClassVar = {
        "GET": doors.BatchesDoor.roles["GET"],
        "POST": doors.BatchesDoor.roles["POST"],
    }

    def get(self, request: HttpRequest, stage: str) -> HttpResponse:
        """The batches to choose from; a traveler that is scanned leads to its batch."""
        refuse_unclear(request.GET)
        code = request.GET.get("code", "")
        if not code.strip():
            return self._shown(stage)
        try:
            return HttpResponseRedirect(_bench_of(request, code))
        except ShopError as refused:
            return self._shown(stage, refused, code=code)

    def post(self, request: HttpRequest, stage: str) -> HttpResponse:
        """Plan a batch and start it."""
        typed = request.POST
        key = typed.get(KEY_FIELD, "")
        body: dict[str, Any] = {"item": typed.get("item", "")}
        if typed.get("unit", "each") == "each":
            body["pieces"] = _whole(typed.get("amount", ""))
        else:
            body |= {"amount": typed.get("amount", ""), "unit": typed["unit"]}
        try:
            batch = tell(request, "batches/", body, key=key)
            tell(request, f"batches/{batch['code']}/start/", {}, key=f"{key}-start")
        except ShopError as refused:
            return self._shown(stage, refused)
        return HttpResponseRedirect(_address(batch) + _back_query(request))

    def _shown(
        self, stage: str, refused: ShopError | None = None, *, code: str = ""
    ) -> HttpResponse:
        request = self.request
        here = ask(request, f"stages/{stage}/")
        listed = ask(request, "batches/", stage=stage, is_open="true", page_size=OPEN_MOST)
        may_plan = may(request, "POST", "batches/")
        bills = []
        if may_plan:
            bills = ask(request, "bills/", stage=stage, has_current="true", page_size=BILLS_MOST)[
                "results"
            ]
        typed = request.POST or request.GET
        running_first = sorted(
            listed["results"], key=lambda batch: (batch["state"] != "running", batch["code"])
        )
        context = {
            "stage": here,
            "batches": [
                {**batch, "address": _address(batch) + _back_query(request), **_numbers(batch)}
                for batch in running_first
            ],
            "back": _back(request),
            "more": listed["count"] - len(listed["results"]),
            "bills": bills,
            "may_plan": may_plan,
            "units": dict.fromkeys([*MIXED_IN, *filter(None, [typed.get("unit")])]),
            "problem": None if refused is None else problem_of(refused),
            "code": code,
            "typed": typed,
            "wrong": _wrong(request.POST, refused),
        }
        status = 200 if refused is None else refused.status
        return self.page("batches/bench_stage.html", context, status=status)


class RunBenchPage(PageDoor):
    """Recording a run: lots to take, what was taken, how many good and scrapped."""

    roles: ClassVar = {
        "GET": doors.BatchEntriesDoor.roles["POST"],
        "POST": doors.StartDoor.roles["POST"],
    }

    def get(self, request: HttpRequest, stage: str, batch: str) -> HttpResponse:
        """The page; at its own stage."""
        found = ask(request, f"batches/{batch}/bench/")
        if (stage, batch) != (found["batch"]["stage"], found["batch"]["code"]):
            return HttpResponseRedirect(_address(found["batch"]) + _back_query(request))
        return self._shown(found)

    def post(self, request: HttpRequest, stage: str, batch: str) -> HttpResponse:
        """Start it, or let it run again."""
        found = ask(request, f"batches/{batch}/bench/")
        act = MAKES_READY.get(found["batch"]["state"], "start")
        try:
            tell(request, f"batches/{batch}/{act}/", {}, key=request.POST.get(KEY_FIELD, ""))
        except ShopError as refused:
            return self._shown(found, refused)
        messages.success(request, f"{batch} runs.")
        return HttpResponseRedirect(_address(found["batch"]) + _back_query(request))

    def _shown(self, found: Mapping[str, Any], refused: ShopError | None = None) -> HttpResponse:
        batch = found["batch"]
        context = {
            **found,
            **_numbers(batch),
            "left_text": amount(found["left"]),
            "address": _address(batch),
            "back": _back(self.request),
            "factors": [{**each, "label": words(each["name"])} for each in found["factors"]],
            "timer_minutes": TIMER_MINUTES,
            "makes_ready": MAKES_READY.get(batch["state"]),
            "is_running": batch["state"] == "running",
            "latest": [
                {
                    **entry,
                    "at_text": shop_moment(entry["at"]),
                    "good_text": amount(entry["good"]),
                    "scrapped_text": amount(entry["scrapped"]),
                    "lots": [row["lot"] for row in entry["made"]],
                }
                for entry in found["entries"]
            ],
            "problem": None if refused is None else problem_of(refused),
        }
        status = 200 if refused is None else refused.status
        return self.page("batches/bench_run.html", context, status=status)


class LotsPart(PageDoor):
    """The part of the bench page with the lots to take."""

    roles: ClassVar = bench.ProposalDoor.roles

    def get(self, request: HttpRequest, stage: str, batch: str) -> HttpResponse:
        """The lots, in order; what stands in the way in its place."""
        try:
            found = ask(request, f"batches/{batch}/proposal/", **request.GET.dict())
        except ShopError as refused:
            return self.page("batches/_bench_lots.html", {"problem": problem_of(refused)})
        lines = [
            {
                **line,
                "need_text": amount(line["need"]),
                "missing_text": amount(line["missing"]) if line["missing"] else "",
                "mix": _mix(line, back=f"/bench/{stage}/{batch}/"),
                "lots": [
                    {
                        **lot,
                        "amount_text": amount(lot["amount"]),
                        "until": shop_moment(lot["usable_until"]) if lot["usable_until"] else "",
                    }
                    for lot in line["lots"]
                ],
            }
            for line in found["lines"]
        ]
        context = {"lines": lines, "has_bill": found["has_bill"], "not_taken": found["not_taken"]}
        return self.page("batches/_bench_lots.html", context)


class ScanPart(PageDoor):
    """The part of the bench page that says whether what was scanned is right."""

    roles: ClassVar = bench.FitsDoor.roles

    def get(self, request: HttpRequest, stage: str, batch: str) -> HttpResponse:
        """Right, or why not."""
        code = request.GET.get("code", "")
        try:
            refuse_unclear(request.GET)
            found = ask(request, "scan/", code=code)
            if found["kind"] != "lot":
                context = {"code": code, "why": f"{found['meaning']} Scan a lot."}
            else:
                context = {"fit": ask(request, f"batches/{batch}/fits/", lot=found["code"])}
        except ShopError as refused:
            context = {"code": code, "why": refused.detail}
        return self.page("batches/_bench_scan.html", context)


def _wrong(typed: Mapping[str, str], refused: ShopError | None) -> dict[str, Any]:
    """What is wrong with a new run, at the field it was typed in: pieces are its amount."""
    if refused is None:
        return {}
    made = [
        Input("item", "", "text", typed.get("item", "")),
        Input("amount", "", "amount", typed.get("amount", ""), unit=typed.get("unit", "")),
    ]
    found = blamed(made, refused)
    amount_words = [text for name in ("amount", "pieces", "unit") for text in found.get(name, ())]
    return {"item": found.get("item", ()), "amount": amount_words}


def _bench_of(request: HttpRequest, code: str) -> str:
    """Where a traveler that was scanned leads; another thing to what it is."""
    found = ask(request, "scan/", code=code)
    if found["kind"] == "batch":
        return _address(ask(request, f"batches/{found['code']}/")["batch"]) + _back_query(request)
    return str(found["address"]).replace("/api/v1/", "/")


def _address(batch: Mapping[str, Any]) -> str:
    return f"/bench/{batch['stage']}/{batch['code']}/"


def _mix(line: Mapping[str, Any], *, back: str) -> str:
    """Where what is missing is mixed, with all of it filled in; and the way back from there."""
    if not line["mixed_at"]:
        return ""
    asked = {"item": line["item"], **line["missing"], "back": back}
    return f"/bench/{line['mixed_at']}/?{urlencode(asked)}"


def _back(request: HttpRequest) -> dict[str, str]:
    """The page of a run that somebody came from to mix something for it; no other address."""
    address = request.GET.get("back") or request.POST.get("back", "")
    found = _RUN_PAGE.fullmatch(address)
    return {"address": address, "batch": found[1]} if found else {}


def _back_query(request: HttpRequest) -> str:
    back = _back(request)
    return f"?{urlencode({'back': back['address']})}" if back else ""


def _numbers(batch: Mapping[str, Any]) -> dict[str, str]:
    return {name: amount(batch[name]) for name in ("planned", "good", "scrapped")}


def _waiting(waiting: Mapping[str, int]) -> str:
    lots, pieces, held = waiting["lots"], waiting["pieces"], waiting["held_pieces"]
    words = f"{pieces:,} pieces in {lots} lot{'' if lots == 1 else 's'}" if pieces else ""
    blocked = f"{held:,} may not be used" if held else ""
    return "; ".join(filter(None, (words, blocked)))


def _width(ratio: str | None) -> int:
    return 0 if ratio is None else round(float(ratio) * SHARE_WIDTH)


def _whole(text: str) -> int | str:
    return int(text) if text.strip().isdecimal() and len(text) < len(str(10**9)) else text


urlpatterns = [
    path("bench/", StageLinePage.as_view()),
    path("bench/<str:stage>/", StageBenchPage.as_view()),
    path("bench/<str:stage>/<str:batch>/", RunBenchPage.as_view()),
    path("bench/<str:stage>/<str:batch>/lots/", LotsPart.as_view()),
    path("bench/<str:stage>/<str:batch>/scan/", ScanPart.as_view()),
]
