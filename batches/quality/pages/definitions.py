"""Pages of what is tested at each stage."""

from __future__ import annotations

from django.http import HttpRequest
from django.urls import path

from batches.quality.api import doors
from shopfloor.screens import Act, ActPage, ChangePage, Column, ListPage, ThingPage, ask

_WORDS = {
    "how_many": "How many are tested",
    "fixed_pieces": "Pieces, where the number is fixed",
    "accept_pieces": "Pieces that may fail, without a plan",
    "level": "Inspection level",
    "aql": "AQL",
    "may_reduce": "May test fewer after many good lots",
    "lower": "Lower limit",
    "upper": "Upper limit",
    "unit": "Unit of the values",
}
_LATER = ("level", "may_reduce", "is_active")
_SHOWN_MAX = 200


def definitions_offered(request: HttpRequest) -> list[tuple[str, str]]:
    """Those in use, to choose from."""
    listed = ask(request, "check-definitions/", is_active="true", page_size=_SHOWN_MAX)["results"]
    return [(row["code"], f"{row['name']}, {row['stage']}") for row in listed]


class DefinitionsPage(ListPage):
    """Check definitions."""

    door = doors.DefinitionsDoor
    title = "Check definitions"
    says = "What is tested at each stage, how many pieces of a lot, and what passes."
    columns = (
        Column("code", "Definition", order="code"),
        Column("name", order="name"),
        Column("stage"),
        Column("item"),
        Column("kind"),
        Column("how_many", "How many"),
        Column("defect"),
        Column("is_active"),
    )
    filters = ("stage", "kind", "is_active")
    acts = (
        Act("New definition", "/check-definitions/new/", is_main=True),
        Act("Record a check", "/checks/new/"),
    )
    none = "Nothing is tested yet. Say what is tested at a stage, and how many pieces of a lot."


class DefinitionPage(ThingPage):
    """One definition."""

    door = doors.DefinitionDoor
    title = "Check"
    hidden = ("name",)
    labels = _WORDS
    acts = (
        Act("Record a check", "/checks/new/?definition={code}", is_main=True),
        Act("Its checks", "/checks/?definition={code}&ordering=-at", door=""),
        Act("Control chart", "/checks/chart/?definition={code}", door=""),
        Act("Change it", "change/"),
    )


class DefinitionForm(ActPage):
    """A new definition."""

    door = doors.DefinitionsDoor
    title = "New check definition"
    done = "{code} is added."
    first = ("code", "name", "stage", "item", "kind", "defect", "how_many", "aql", "fixed_pieces")
    later = _LATER
    labels = _WORDS


class DefinitionChange(ChangePage):
    """A definition, changed."""

    door = doors.DefinitionChangeDoor
    title = "Change a check definition"
    says = "What it looks at stays once it was used; every edit is kept."
    first = DefinitionForm.first
    later = _LATER
    labels = _WORDS


urlpatterns = [
    path("check-definitions/", DefinitionsPage.as_view()),
    path("check-definitions/new/", DefinitionForm.as_view()),
    path("check-definitions/<str:code>/", DefinitionPage.as_view()),
    path("check-definitions/<str:code>/change/", DefinitionChange.as_view()),
]
