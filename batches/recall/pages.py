"""Pages of recalls: begin one, the case, whom to write to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from django.http import HttpRequest, HttpResponse
from django.urls import path

from batches.recall.api import doors, shapes
from shopfloor.errors import ShopError
from shopfloor.screens import (
    Act,
    ActPage,
    Column,
    ListPage,
    Paper,
    Table,
    ThingPage,
    drawn,
    tell,
    typed,
)

_WHERE_ALL_IS = (
    *("received", "made", "used", "shipped", "returned", "sent_back", "disposed"),
    *("parted", "unexplained", "stopped", "free"),
)
BALANCE = (
    Column("item", note="name"),
    *(Column(name) for name in _WHERE_ALL_IS),
)
LETTERS = (
    Column("customer", note="customer_name"),
    Column("shipment"),
    Column("at", "Left"),
    Column("item", note="name"),
    Column("boxes"),
    Column("lots"),
    Column("shipped"),
    Column("returned"),
    Column("address"),
)
CUSTOMERS = (
    Column("customer", note="customer_name"),
    Column("item", note="name"),
    Column("shipped"),
    Column("returned"),
    Column("destroyed", "Destroyed there"),
    Column("outstanding"),
)
LOTS = (
    Column("lot"),
    Column("balance.item", "Item", to="items"),
    Column("place"),
    Column("disposition"),
    Column("balance.free", "Free"),
    Column("balance.stopped", "Stopped"),
)
RUNS = (
    Column("batch"),
    Column("stage"),
    Column("item", note="name"),
    Column("first_at", "From"),
    Column("last_at", "To"),
    Column("good"),
    Column("scrapped"),
    Column("unexplained"),
)
AT_RISK = (
    Table("customers", "Who has it", CUSTOMERS, "Nothing of it left the shop."),
    Table("items", "Where all of it is", BALANCE),
    Table("lots", "Lots", LOTS),
    Table("runs", "Runs that took it", RUNS),
)


class RecallsPage(ListPage):
    """Recalls."""

    door = doors.RecallsDoor
    title = "Recalls"
    says = "In earnest, or as a drill in which nothing is held."
    columns = (
        Column("code", "Recall", order="at"),
        Column("kind"),
        Column("state"),
        Column("asked", "From"),
        Column("reason", "Why"),
        Column("at", "Begun", order="at"),
        Column("minutes", "Minutes to close"),
    )
    filters = ("kind", "is_open", "lot")
    acts = (
        Act("Begin a recall", "/recalls/new/", is_main=True),
        Act("Letters of all open ones", "/recalls/letters/", door=""),
    )
    none = "No recall yet. Try a drill: it holds nothing, and shows how fast every piece is found."


class RecallForm(ActPage):
    """Begin one; what is at risk can be seen first, and nothing is held by looking."""

    door = doors.RecallsDoor
    title = "Begin a recall"
    says = (
        "Scan what is suspect and look: that writes nothing. Then say why and begin: a real recall "
        "holds everything at risk that is here; a drill holds nothing."
    )
    button = "Begin it"
    done = "{recall[code]} is begun. Write to whom it names, and note what comes back."
    lands = "/recalls/{recall[code]}/"
    needs = ("reason",)
    template = "batches/recall_new.html"
    first = ("lots", "batches", "boxes", "equipment", "first_on", "last_on", "kind", "reason")
    labels: ClassVar = {
        "lots": "Suspect lots",
        "batches": "Suspect batches",
        "boxes": "Suspect boxes",
        "equipment": "Suspect equipment: press, mold, wheel, station",
        "kind": "In earnest, or as a drill",
        "reason": "Why",
    }

    risk: Mapping[str, Any] | None = None

    def post(self, request: HttpRequest, **address: object) -> HttpResponse:
        """Begin it, or only look."""
        if "look" not in request.POST:
            return super().post(request, **address)
        entered = typed.nested(typed.sent(request.POST))
        body = typed.body_of(shapes.SuspectSerializer(), entered)
        try:
            self.risk = tell(request, "recalls/preview/", body, key="")
        except ShopError as refused:
            return self.form(typed.compact(entered), refused)
        return self.form(entered, {})

    def context(self) -> dict[str, Any]:
        """With what is at risk, where it was asked for."""
        return {} if self.risk is None else {"risk": self.risk, "tables": _tables(self.risk)}


def _tables(risk: Mapping[str, Any]) -> Sequence[Any]:
    return [drawn(table, risk[table.name]) for table in AT_RISK if risk[table.name] or table.none]


class RecallCasePage(ThingPage):
    """One case."""

    door = doors.RecallDoor
    title = "Recall"
    inner = "recall"
    template = "batches/recall.html"
    facts = (
        *("kind", "state", "asked", "reason", "at", "by"),
        *("closed_at", "closed_by", "conclusion", "minutes"),
    )
    labels: ClassVar = {
        "asked": "Begun from",
        "reason": "Why",
        "at": "Begun",
        "minutes": "Minutes from begun to closed",
    }
    tables = (
        Table(
            "risk.customers", "Who has it", CUSTOMERS, "Nothing of it left the shop.", folds=True
        ),
        Table("risk.letters", "Letters to write", LETTERS, folds=True),
        Table(
            "notes",
            "What was done and heard",
            (
                Column("at", "When"),
                Column("by"),
                Column("reason", "What"),
                Column("customer"),
                Column("item"),
                Column("destroyed", "Destroyed there"),
            ),
            "Nothing is noted yet. Note each customer you reach, and what is destroyed there.",
        ),
        Table("risk.items", "Where all of it is now", BALANCE, folds=True),
        Table(
            "figures",
            "Where it was",
            (
                Column("moment", "When it was"),
                Column("balance.item", "Item", to="items"),
                *(Column(f"balance.{name}") for name in _WHERE_ALL_IS),
            ),
            folds=True,
        ),
        Table(
            "holds",
            "Holds it placed",
            (
                Column("hold"),
                Column("lot"),
                Column("released_at", "Released"),
                Column("released_by", "By"),
                Column("release_reason", "Why"),
            ),
            folds=True,
        ),
        Table(
            "complaints",
            "Complaints of what is at risk",
            (
                Column("code", "Complaint", to="complaints"),
                Column("defect"),
                Column("pieces"),
                Column("told_on", "Told"),
                Column("customer"),
                Column("box"),
                Column("lot"),
                Column("note"),
            ),
            folds=True,
        ),
        Table("risk.lots", "Lots", LOTS, folds=True),
        Table("risk.runs", "Runs that took it", RUNS, folds=True),
    )
    acts = (
        Act("Note what was done", "notes/new/", {"state": ["open"]}, is_main=True),
        Act("Letters", "/recalls/letters/?recall={code}", door=""),
        Act("Close it", "close/", {"state": ["open"]}),
    )
    papers = (Paper("recalls", "Case file (PDF)"),)

    def context(self, thing: Mapping[str, Any]) -> dict[str, Any]:
        """With who has something and is in no note yet."""
        noted = {note["customer"] for note in thing["notes"]}
        having: dict[str, str] = {
            row["customer"]: row["customer_name"] for row in thing["risk"]["customers"]
        }
        return {
            **super().context(thing),
            "having": having,
            "unreached": {code: name for code, name in having.items() if code not in noted},
        }


class RecallNoteForm(ActPage):
    """What was done or heard."""

    door = doors.NotesDoor
    title = "Note what was done"
    says = "Whom you reached and what they said; or what was destroyed, where it is."
    button = "Note it"
    done = "It is noted."
    needs = ("reason",)
    lands = "/recalls/{recall[code]}/"
    first = ("customer", "reason", "item", "destroyed")
    labels: ClassVar = {"reason": "What was done or heard", "destroyed": "Pieces destroyed there"}


class RecallCloseForm(ActPage):
    """The end of a case."""

    door = doors.CloseDoor
    title = "Close the recall"
    says = "Its figures are taken down once more. Its holds stay until a lead releases them."
    button = "Close it"
    done = "It is closed."
    needs = ("reason",)
    lands = "/recalls/{recall[code]}/"
    labels: ClassVar = {"reason": "Conclusion"}


class LettersPage(ListPage):
    """Whom to write to."""

    door = doors.LettersDoor
    title = "Letters to write"
    says = "What each customer got, by shipment. As a sheet for letters in series."
    columns = (Column("recall"), *LETTERS)
    filters = ("recall",)
    to = ""
    none = "Nobody is to be written to: no recall is open, or nothing of it left the shop."


urlpatterns = [
    path("recalls/", RecallsPage.as_view()),
    path("recalls/new/", RecallForm.as_view()),
    path("recalls/letters/", LettersPage.as_view()),
    path("recalls/<str:code>/", RecallCasePage.as_view()),
    path("recalls/<str:code>/notes/new/", RecallNoteForm.as_view()),
    path("recalls/<str:code>/close/", RecallCloseForm.as_view()),
]
