"""Pages of boxes."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, ClassVar

from django.urls import path

from batches.packing.api import boxes
from shopfloor.screens import (
    PAPER,
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

_OPEN = {"state": ["open"]}
_MOVE = "Take out, put in"


class BoxesPage(ListPage):
    """Boxes."""

    door = boxes.BoxesDoor
    title = "Boxes"
    columns = (
        Column("code", "Box", order="code"),
        Column("state"),
        Column("pieces"),
        Column("lots.item", "Lures"),
        Column("parent", "Stands in", to="boxes"),
        Column("shipment"),
        Column("packed_at", "Packed", order="packed_at"),
        Column("by"),
    )
    filters = ("state", "lot", "parent")
    acts = (
        Act("Pack a box", "/boxes/new/", is_main=True),
        Act("Give boxes an SSCC", "/ssccs/new/"),
    )
    none = "No boxes yet. Pack the first from a lot of finished lures."


class BoxPage(ThingPage):
    """One box and what is in it."""

    door = boxes.BoxDoor
    title = "Box"
    hidden = ("recorded_at",)
    labels: ClassVar = {
        "parent": "Stands in",
        "packed_at": "Packed",
        "sscc": "SSCC",
        "boxes": "Boxes in it",
    }
    to: ClassVar = {"parent": "boxes"}
    tables = (
        Table(
            "lots",
            "What is in it",
            (
                Column("lot"),
                Column("item", note="item_name"),
                Column("pieces"),
                Column("grade"),
                Column("disposition"),
                Column("expires_at", "Expires"),
            ),
            none="Nothing is in it.",
        ),
    )
    acts = (
        Act("Put lures in", "add/", _OPEN, is_main=True),
        Act("Close it", "close/", _OPEN),
        Act("Ship it", "/shipments/new/?boxes={code}", {"state": ["closed"]}, is_main=True),
        Act("Complaint about it", "/complaints/new/?box={code}", {"state": ["shipped"]}),
        Act("Trace it", "/trace/?code={code}", door=""),
        Act("Take out", "take-out/", _OPEN, group=_MOVE),
        Act("Put it into a box", "put-in/", {"state": ["open", "closed"]}, group=_MOVE),
        Act("Open it again", "reopen/", {"state": ["closed"]}, group=_MOVE),
        Act("Print labels", "/printings/new/?kind=boxes&codes={code}", group=PAPER),
    )
    papers = (Paper("boxes", "Label"), Paper("cartons", "Carton label"))


class BoxForm(ActPage):
    """A new box."""

    door = boxes.BoxesDoor
    title = "Pack a box"
    says = "Scan a lot and write how many pieces go in. A box without a code gets one."
    button = "Pack it"
    done = "{code} is packed: {pieces} pieces."
    first = ("contents",)
    later = ("at", "reason", "parent")
    looks: ClassVar = {"parent": "boxes"}
    labels: ClassVar = {
        "contents": "What goes in",
        "contents.pieces": "Pieces; empty means all of it",
        "parent": "Box it stands in",
        "code": "Own code of the box",
    }


class _BoxAct(ActPage):
    """What is done to one box."""

    labels: ClassVar = {
        "contents": "Lots",
        "contents.pieces": "Pieces; empty means all of it",
        "place": "Where it goes",
        "parent": "Box it goes into",
    }
    looks: ClassVar = {"parent": "boxes"}
    later: ClassVar[Collection[str]] = ("at", "reason")
    done = "{code}: {pieces} pieces."

    def context(self) -> dict[str, Any]:
        """With what is in it now."""
        return {"table": drawn(BoxPage.tables[0], self.box()["lots"])}

    def box(self) -> Mapping[str, Any]:
        """The box."""
        box: Mapping[str, Any] = ask(self.request, f"boxes/{self.kwargs['code']}/")
        return box


class BoxAddForm(_BoxAct):
    """More for it."""

    door = boxes.AddDoor
    title = "Put lures in"


class BoxTakeOutForm(_BoxAct):
    """Less in it."""

    door = boxes.TakeOutDoor
    title = "Take out"
    says = "What comes out of the box, and the shelf or bench it goes to."


class BoxCloseForm(_BoxAct):
    """The lid."""

    door = boxes.CloseDoor
    title = "Close the box"
    says = "A closed box can be shipped. It can be opened again until it is."
    done = "{code} is closed."
    later = ()


class BoxReopenForm(_BoxAct):
    """Packed again."""

    door = boxes.ReopenDoor
    title = "Open the box again"
    done = "{code} is open."
    later = ()


class BoxPutInForm(_BoxAct):
    """A box in a box."""

    door = boxes.PutInDoor
    title = "Put it into a box"
    done = "Done."
    helps: ClassVar = {"parent": "It must be open. Empty: the box stands alone."}


class SsccsForm(ActPage):
    """Numbers for carriers."""

    door = boxes.SsccsDoor
    title = "Give boxes an SSCC"
    says = "Their number with carriers and customers, from the shop's GS1 prefix. For good."
    done = "Done. The carton label shows it."
    lands = "/boxes/"


urlpatterns = [
    path("boxes/", BoxesPage.as_view()),
    path("boxes/new/", BoxForm.as_view()),
    path("boxes/<str:code>/", BoxPage.as_view()),
    path("boxes/<str:code>/add/", BoxAddForm.as_view()),
    path("boxes/<str:code>/take-out/", BoxTakeOutForm.as_view()),
    path("boxes/<str:code>/close/", BoxCloseForm.as_view()),
    path("boxes/<str:code>/reopen/", BoxReopenForm.as_view()),
    path("boxes/<str:code>/put-in/", BoxPutInForm.as_view()),
    path("ssccs/new/", SsccsForm.as_view()),
]
