"""Pages of build plans."""

from __future__ import annotations

from typing import ClassVar

from django.urls import path

from batches.planning.api import plans
from shopfloor.screens import Act, ActPage, ChangePage, Column, ListPage, Table, ThingPage

_LABELS = {
    "lines": "What shall be ready",
    "lines.week_on": "Any day of the week",
    "lines.pieces": "Good pieces; 0 takes the line out",
    "is_active": "In force: things are planned by it",
}


class PlansPage(ListPage):
    """Build plans."""

    door = plans.BuildPlansDoor
    title = "Build plans"
    says = "Which lures shall be ready by which week, and how many good pieces."
    columns = (
        Column("code", "Plan", order="code"),
        Column("name", order="name"),
        Column("is_active", "In force"),
        Column("note"),
        Column("by"),
        Column("recorded_at", "Written down", order="recorded_at"),
    )
    acts = (
        Act("Plan", "/build-plans/new/", is_main=True),
        Act("What it asks for", "/planning/requirements/", door=""),
    )
    none = "No plan yet. Plan what the season shall bring; it says what to order and when."


class PlanPage(ThingPage):
    """One plan."""

    door = plans.BuildPlanDoor
    title = "Build plan"
    facts = ("is_active", "note", "by", "recorded_at")
    labels: ClassVar = {"is_active": "In force", "recorded_at": "Written down"}
    tables = (
        Table(
            "lines",
            "What shall be ready",
            (Column("week_on", "Week of"), Column("item", note="item_name"), Column("pieces")),
            "Nothing is planned by it yet.",
        ),
    )
    acts = (
        Act("Change it", "change/"),
        Act("What it asks for", "/planning/requirements/", door=""),
    )


class PlanForm(ActPage):
    """A new plan."""

    door = plans.BuildPlansDoor
    title = "Plan"
    done = "{code} stands."
    later = ("note",)
    labels: ClassVar = _LABELS
    leaves = ("is_active",)


class PlanChangeForm(ChangePage):
    """A change of a plan."""

    door = plans.ChangeBuildPlanDoor
    title = "Change the plan"
    says = "Lines that are not named stay as they are."
    labels: ClassVar = _LABELS
    helps: ClassVar = {"is_active": "Not ticked: nothing is planned by it any more."}


urlpatterns = [
    path("build-plans/", PlansPage.as_view()),
    path("build-plans/new/", PlanForm.as_view()),
    path("build-plans/<str:code>/", PlanPage.as_view()),
    path("build-plans/<str:code>/change/", PlanChangeForm.as_view()),
]
