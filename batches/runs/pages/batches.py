"""Pages of batches and entries, for the office."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django.http import HttpRequest
from django.urls import path

from batches.runs.api import doors
from shopfloor.screens import (
    FILLED,
    Act,
    ActPage,
    Column,
    ListPage,
    Paper,
    Table,
    ThingPage,
    ask,
    drawn,
)
from shopfloor.screens.cells import amount, words

_RECORDS = "batches/any/entries/"  # who may record may go to the bench
_OPEN = ("planned", "idle", "running", "held")
_MADE = {"recorded": FILLED}
_RECORD, _STOP = "Record", "Stop"


class BatchesPage(ListPage):
    """Batches."""

    door = doors.BatchesDoor
    title = "Batches"
    columns = (
        Column("code", "Batch", order="code"),
        Column("item", note="item_name"),
        Column("stage"),
        Column("state"),
        Column("planned"),
        Column("good"),
        Column("scrapped"),
        Column("planned_on", "To run on", order="planned_on"),
        Column("note"),
    )
    filters = ("state", "stage", "item", "planned_on_after", "planned_on_before")
    preset: ClassVar = {"ordering": "-planned_on"}
    acts = (
        Act("Plan a batch", "/batches/new/", is_main=True),
        Act("The bench", "/bench/", door=""),
    )
    none = "No batches yet. Release a bill of materials, then plan the first."


class BatchPage(ThingPage):
    """One batch with its entries and states."""

    door = doors.BatchDoor
    title = "Batch"
    hidden = ("item_name", "states", "recorded")
    labels: ClassVar = {
        "revision": "Made to revision",
        "planned_on": "To run on",
        "recorded_at": "Written down",
    }
    tables = (
        Table(
            "recorded",
            "Entries",
            (
                Column("code", "Entry", to="entries"),
                Column("at", "When"),
                Column("done_by", "Done by"),
                Column("good"),
                Column("scrapped"),
                Column("taken", "Took"),
                Column("made", "Made"),
                Column("reversed_by", "Undone by", to="postings"),
            ),
            none="Nothing is recorded yet.",
        ),
        Table(
            "states",
            "States",
            (
                Column("at", "When"),
                Column("before"),
                Column("after"),
                Column("by"),
                Column("reason", "Why"),
            ),
        ),
    )
    acts = (
        Act(
            "Record at the bench",
            "/bench/{stage}/{code}/",
            {"state": _OPEN},
            _RECORDS,
            is_main=True,
        ),
        Act("Give it to the bench", "ready/", {"state": ["planned"]}),
        Act("Start", "start/", {"state": ["planned", "idle"]}),
        Act("Resume", "resume/", {"state": ["held"]}),
        Act("Complete", "complete/", {"state": ["running"]}),
        Act("Trace it", "/trace/?code={code}", door=""),
        Act("Record on a form", "entries/new/", {"state": ["running"]}, group=_RECORD),
        Act("Check all it made", "/checks/new/?batch={code}", _MADE, group=_RECORD),
        Act("Hold", "hold/", {"state": ["running"]}, group=_STOP),
        Act("Abort", "abort/", {"state": _OPEN}, group=_STOP),
    )
    papers = (Paper("batches", "Traveler"), Paper("records", "Batch record"))

    def thing(self, request: HttpRequest) -> Mapping[str, Any]:
        """The batch, which says how many entries it has, and these beside it, newest first."""
        said = ask(request, request.path.removeprefix("/"))
        recorded = [
            {**entry, "taken": _lots(entry["taken"]), "made": _lots(entry["made"])}
            for entry in reversed(said["entries"])
        ]
        return {**said["batch"], "states": said["states"], "recorded": recorded}


def _lots(rows: list[Mapping[str, Any]]) -> str:
    return "; ".join(f"{row['lot']} {amount(row['amount'])}" for row in rows)


class PlanForm(ActPage):
    """A batch to come."""

    door = doors.BatchesDoor
    title = "Plan a batch"
    says = "It is made to the current revision of its item's bill; that says at which stage."
    button = "Plan it"
    done = "{code} is planned."
    first = ("item", "pieces", "amount", "planned_on")
    later = ("revision", "rework_stage", "code")
    labels: ClassVar = {
        "pieces": "Good pieces wanted",
        "amount": "Or, of a mixture, how much",
        "planned_on": "To run on",
        "revision": "Made to revision",
        "rework_stage": "Works held or second pieces over, without a bill, at stage",
        "code": "A code of your own",
    }


class _StateForm(ActPage):
    """A change of a batch's state."""

    done = "{code} is {state}."


class ReadyForm(_StateForm):
    """Give it to the bench."""

    door = doors.ReadyDoor
    title = "Give it to the bench"
    says = "It waits there until it is started."


class StartForm(_StateForm):
    """Start it."""

    door = doors.StartDoor
    title = "Start"
    says = "From now on it takes entries."


class HoldForm(_StateForm):
    """Pause it."""

    door = doors.PauseDoor
    title = "Hold"
    says = "The run stops until it is resumed. To stop lots, hold the lots themselves."


class ResumeForm(_StateForm):
    """Let it run again."""

    door = doors.ResumeDoor
    title = "Resume"


class CompleteForm(_StateForm):
    """End it."""

    door = doors.CompleteDoor
    title = "Complete"
    says = "It has made what it will make. It takes no more entries."


class AbortForm(_StateForm):
    """End it before its time."""

    door = doors.AbortDoor
    title = "Abort"
    says = "Ends it for good before its time. What was recorded stands."


class BatchEntryForm(ActPage):
    """An entry on a form: what the bench page does, without it."""

    door = doors.BatchEntriesDoor
    title = "Record on a form"
    says = "Without lots, the entry takes what the bill proposes, first expired first."
    button = "Save"
    done = "{code} is saved."
    lands = "/entries/{code}/"
    rows = 2
    labels: ClassVar = {
        "good": "Good",
        "good.amount": "Or, of a mixture, how much",
        "good.equipment": "From which cavity or station",
        "scrap": "Scrapped",
        "scrap.amount": "Or, of a mixture, how much",
        "scrap.scrap_reason": "Why",
        "scrap.equipment": "From which cavity or station",
        "lots": "Lots taken",
        "lots.amount": "How much, if it was weighed or counted",
        "by_products": "By-products that were weighed",
        "equipment": "Equipment used, codes",
        "factors": "Circumstances",
        "minutes": "Minutes of work",
        "done_by": "Done by, if not by you",
        "override_reason": "A lead's reason to use an expired lot",
    }
    later = ("at", "reason", "by_products", "factors", "done_by", "override_reason")


_RECORDED = (
    Column("code", "Entry"),
    Column("batch"),
    Column("at", "When", order="posting__at"),
    Column("done_by", "Done by"),
    Column("good"),
    Column("scrapped"),
    Column("minutes"),
)


class EntriesPage(ListPage):
    """Entries."""

    door = doors.EntriesDoor
    title = "Entries"
    says = "What was recorded at the benches."
    columns = (*_RECORDED, Column("reversed_by", "Undone by", to="postings"))
    filters = ("batch", "stage", "item", "done_by")
    preset: ClassVar = {"ordering": "-posting__at"}
    acts = (Act("The bench", "/bench/", door="", is_main=True),)
    none = "Nothing is recorded yet. The bench is where entries are made."


class EntryPage(ThingPage):
    """One entry with what it took and made."""

    door = doors.EntryDoor
    title = "Entry"
    labels: ClassVar = {"reversed_by": "Undone by", "recorded_at": "Written down"}
    tables = (
        Table("tallies", "Pieces"),
        Table("taken", "Took"),
        Table("made", "Made"),
        Table("factors", "Circumstances", (Column("name"), Column("was", "Was"))),
    )
    hidden = ("tallies", "taken", "made", "factors")
    acts = (
        Act("Undo", "reverse/", {"reversed_by": [None]}),
        Act("Its batch", "/batches/{batch}/", door=""),
    )

    def thing(self, request: HttpRequest) -> Mapping[str, Any]:
        """The entry; what a circumstance was is no money, whatever the member is called."""
        said = super().thing(request)
        factors = [{"name": words(each["name"]), "was": each["value"]} for each in said["factors"]]
        return {**said, "factors": factors}


class EntryReverseForm(ActPage):
    """Undo an entry."""

    door = doors.EntryReverseDoor
    title = "Undo"
    says = "Its material goes back, what it made goes away. Then record it rightly."
    button = "Undo it"
    done = "{code} is undone."
    first = ("reason",)
    labels: ClassVar = {"reason": "Why"}

    def context(self) -> dict[str, Any]:
        """With the entry, and what its batch makes."""
        entry = ask(self.request, f"entries/{self.kwargs['code']}/")
        batch = ask(self.request, f"batches/{entry['batch']}/")["batch"]
        return {
            "says": f"Of {batch['item']}, {batch['item_name']}. {self.says}",
            "table": drawn(Table("entry", "This is undone", _RECORDED), [entry]),
        }

    def landing(self, answer: Any) -> str:
        """Back to the bench, if it came from there."""
        if "bench" not in self.request.GET:
            return super().landing(answer)
        batch = ask(self.request, f"batches/{answer['batch']}/")["batch"]
        return f"/bench/{batch['stage']}/{batch['code']}/"


urlpatterns = [
    path("batches/", BatchesPage.as_view()),
    path("batches/new/", PlanForm.as_view()),
    path("batches/<str:code>/", BatchPage.as_view()),
    path("batches/<str:code>/ready/", ReadyForm.as_view()),
    path("batches/<str:code>/start/", StartForm.as_view()),
    path("batches/<str:code>/hold/", HoldForm.as_view()),
    path("batches/<str:code>/resume/", ResumeForm.as_view()),
    path("batches/<str:code>/complete/", CompleteForm.as_view()),
    path("batches/<str:code>/abort/", AbortForm.as_view()),
    path("batches/<str:code>/entries/new/", BatchEntryForm.as_view()),
    path("entries/", EntriesPage.as_view()),
    path("entries/<str:code>/", EntryPage.as_view()),
    path("entries/<str:code>/reverse/", EntryReverseForm.as_view()),
]
