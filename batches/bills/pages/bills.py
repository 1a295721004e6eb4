"""Pages of bills of materials and their revisions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any, ClassVar

from django.http import HttpRequest
from django.urls import path

from batches.bills.api import bills
from shopfloor.screens import (
    FILLED,
    Act,
    ActPage,
    ChangePage,
    Column,
    ListPage,
    Table,
    ThingPage,
)
from shopfloor.screens.cells import not_tiny

LINE_WORDS = {
    "takes": "Takes",
    "per_batch": "Once a batch",
    "loss_ratio": "Lost",
    "value_ratio": "Share of the value",
    "role": "Role",
    "alternatives": "Or else",
}
"""What a line says, and what it is called on pages."""

_LINES = (
    Column("item", note="name"),
    *(Column(name, label) for name, label in LINE_WORDS.items()),
)
_REVISIONS = (
    Column("number", "Revision", to="/bills/{item}/revisions/{number}/"),
    Column("state"),
    Column("scrap_ratio", "Pieces lost"),
    Column("note"),
    Column("by"),
    Column("recorded_at", "Made"),
    Column("released_at", "Released"),
    Column("retired_at", "Retired"),
)
_DRAFT = {"state": ["draft"]}


def readable(line: Mapping[str, Any]) -> dict[str, Any]:
    """A line as people read it: what is nothing is not said."""
    nothing = {name: None for name in ("loss_ratio", "value_ratio") if not Decimal(line[name])}
    once = line["per_batch"]
    return {
        **line,
        **nothing,
        "takes": line["per_piece"] or line["per_amount"],
        "per_batch": once if Decimal(once["amount"]) else None,
        "role": None if line["role"] == "taken" else line["role"].replace("_", "-"),
        "alternatives": [_alternative(each) for each in line["alternatives"]],
    }


def _alternative(each: Mapping[str, Any]) -> str:
    share = Decimal(each["largest_ratio"]) * 100
    return f"{each['item']}" if share == 100 else f"{each['item']} up to {share.normalize():f} %"  # noqa: PLR2004 - percent


class BillsPage(ListPage):
    """Bills of materials."""

    door = bills.BillsDoor
    title = "Bills of materials"
    says = "What one piece takes. A released revision never changes: the next one does."
    columns = (
        Column("item.code", "Item", to="bills", note="item.name", order="item_code"),
        Column("item.kind", "Kind"),
        Column("stage", order="stage_code"),
        Column("current_revision", "Current"),
        Column("released_at", "Released", order="released_at"),
        Column("drafts"),
    )
    filters = ("stage", "kind", "model", "colorway", "takes", "has_draft")
    acts = (Act("New bill", "/bills/new/", is_main=True),)
    none = "No bills yet. Make the first: an item, the stage that makes it, and what it takes."


class _BillPage(ThingPage):
    """A bill, one revision of it shown."""

    title = "Bill of"
    facts = ("stage", "revision", "state", "scrap_ratio", "note")
    labels: ClassVar = {"scrap_ratio": "Pieces lost, of those started"}
    tables = (
        Table("lines", "What one takes", _LINES, none="It has no lines yet."),
        Table("revisions", "Revisions", _REVISIONS),
    )

    def thing(self, request: HttpRequest) -> Mapping[str, Any]:
        """The bill, to be read."""
        said = super().thing(request)
        code = said["item"]["code"]
        return {
            **said,
            "code": code,
            "name": said["item"]["name"],
            "has_several": len(said["revisions"]) > 1,
            "lines": [readable(line) for line in said["lines"]],
            "revisions": [{**row, "item": code} for row in said["revisions"]],
        }


class BillPage(_BillPage):
    """A bill: its current revision, and the list of all."""

    door = bills.BillDoor
    acts = (
        Act("Change it", "revisions/{revision}/change/", _DRAFT, is_main=True),
        Act("Release it", "revisions/{revision}/release/", _DRAFT),
        Act("Change it in a new draft", "revisions/new/", {"state": ["current", "retired"]}),
        Act("Cost", "cost/", door=""),
        Act("Where it is used", "where-used/", door=""),
        Act("Compare revisions", "compare/", {"has_several": FILLED}, door=""),
        Act("Copy for another item", "copy/"),
        Act("Make it at another stage", "stage/"),
        Act("Plan a batch", "/batches/new/?item={code}", {"state": ["current"]}),
    )


class RevisionPage(_BillPage):
    """One revision of a bill."""

    door = bills.RevisionDoor
    acts = (
        Act("Change it", "change/", _DRAFT, is_main=True),
        Act("Release it", "release/", _DRAFT),
        Act("Retire it", "retire/", {"state": ["draft", "current"]}),
        Act("Cost", "/bills/{code}/cost/?revision={revision}", door=""),
        Act("Compare", "/bills/{code}/compare/", {"has_several": FILLED}, door=""),
        Act("The bill", "/bills/{code}/", door=""),
    )


class _BillForm(ActPage):
    """A write that leads to the revision it made or changed."""

    first = (
        "item",
        "stage",
        "lines",
        "lines.item",
        "lines.per_piece.amount",
        "lines.per_batch.amount",
    )
    later = (
        "lines.role",
        "lines.per_amount",
        "lines.loss_ratio",
        "lines.value_ratio",
        "lines.alternatives",
    )
    helps: ClassVar = {"lines.per_batch": ""}
    labels: ClassVar = {
        "lines": "What one takes",
        "lines.per_piece": "For one piece",
        "lines.per_batch": "Once a batch",
        "lines.per_amount": "Of a mixture",
        "lines.per_amount.takes": "Takes",
        "lines.per_amount.makes": "For so much made",
        "lines.loss_ratio": "Share lost",
        "lines.value_ratio": "Share of the value",
        "lines.alternatives": "Or else",
        "lines.alternatives.largest_ratio": "Up to this share",
        "scrap_ratio": "Share of pieces lost",
        "copy_of": "Copy of revision",
    }
    rows = 4

    def landing(self, answer: Any) -> str:
        """The revision."""
        return f"/bills/{answer['item']['code']}/revisions/{answer['revision']}/"


class BillForm(_BillForm):
    """A new bill."""

    door = bills.BillsDoor
    title = "New bill"
    says = "It begins as a draft. Release it when it is right; then batches can be made by it."
    button = "Save the draft"
    done = "The draft is saved."


class RevisionForm(_BillForm):
    """A new draft."""

    door = bills.RevisionsDoor
    title = "New draft"
    says = "A copy of the current revision, to be changed and then released in its place."
    button = "Make the draft"
    done = "Revision {revision} is a draft now."
    helps: ClassVar = {"copy_of": "Empty: of the current one."}


class RevisionChange(_BillForm, ChangePage):
    """A draft, changed."""

    door = bills.RevisionChangeDoor
    title = "Change the draft"
    done = "Saved."

    def initial(self) -> dict[str, Any]:
        """The draft, without what says nothing."""
        said = super().initial()
        lines = [dict(_entered(line)) for line in said["lines"]]
        return {"lines": lines, "scrap_ratio": said["scrap_ratio"], "note": said["note"]}


def _entered(line: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    """What a form needs of a line."""
    for name in ("item", "role", "per_amount", "loss_ratio", "value_ratio"):
        if line[name] not in (None, "0"):
            yield name, line[name]
    if line["per_piece"]:
        yield "per_piece", not_tiny(line["per_piece"])
    once = not_tiny(line["per_batch"])
    yield "per_batch", once if Decimal(once["amount"]) else {"unit": once["unit"]}
    yield (
        "alternatives",
        [{"item": e["item"], "largest_ratio": e["largest_ratio"]} for e in line["alternatives"]],
    )


class RevisionReleaseForm(_BillForm):
    """A draft that becomes current."""

    door = bills.RevisionReleaseDoor
    title = "Release"
    says = "It becomes the current revision and never changes again; the one before is retired."
    done = "Revision {revision} is current."


class RevisionRetireForm(_BillForm):
    """A revision that is used no longer."""

    door = bills.RevisionRetireDoor
    title = "Retire"
    says = "It is used no longer. Batches that stand keep it."
    done = "Done."

    def landing(self, answer: Any) -> str:
        """The bill."""
        return f"/bills/{answer['item']['code']}/"


class BillCopyForm(_BillForm):
    """A bill for another model or colorway."""

    door = bills.BillCopyDoor
    title = "Copy for another item"
    says = "The copy is a draft of the other item's bill."
    button = "Copy it"
    done = "The copy is a draft."
    labels: ClassVar = {
        "to_item": "For item",
        "copy_of": "Revision; empty means the current one",
        "scale_paint": "Paint by the models' painted areas",
        "replace": "Items that others stand for",
    }
    helps: ClassVar = {"replace": "A pair a line: PAINT-RED PAINT-BLUE"}


class BillStageForm(ActPage):
    """The stage that makes the item."""

    door = bills.BillStageDoor
    title = "Make it at another stage"
    says = "Batches that stand keep theirs."


_REVISION = "bills/<str:item>/revisions/<int:number>/"

urlpatterns = [
    path("bills/", BillsPage.as_view()),
    path("bills/new/", BillForm.as_view()),
    path("bills/<str:item>/", BillPage.as_view()),
    path("bills/<str:item>/copy/", BillCopyForm.as_view()),
    path("bills/<str:item>/stage/", BillStageForm.as_view()),
    path("bills/<str:item>/revisions/new/", RevisionForm.as_view()),
    path(_REVISION, RevisionPage.as_view()),
    path(f"{_REVISION}change/", RevisionChange.as_view()),
    path(f"{_REVISION}release/", RevisionReleaseForm.as_view()),
    path(f"{_REVISION}retire/", RevisionRetireForm.as_view()),
]
