"""Pages of stages."""

from __future__ import annotations

from typing import ClassVar

from django.urls import path

from batches.bills.api import stages
from shopfloor.screens import Act, ActPage, ChangePage, Column, ListPage, ThingPage

_STAGE_LABELS = {
    "position": "Order in the shop, lower comes first",
    "is_mixing": "It makes a mixture, not pieces",
    "place": "Where its output waits",
}


class StagesPage(ListPage):
    """Stages."""

    door = stages.StagesDoor
    title = "Stages"
    says = "The steps in which a lure comes to be, in the order of the shop."
    columns = (
        Column("code", "Code", order="code"),
        Column("name", "Name", order="name"),
        Column("position", "Order", order="position"),
        Column("place", "Its output waits at"),
        Column("is_mixing", "Makes a mixture"),
        Column("is_active"),
    )
    filters = ("is_active",)
    acts = (Act("Add a stage", "/stages/new/", is_main=True),)
    none = "No stages yet. Add the first: the one that makes something of what you buy."


class StagePage(ThingPage):
    """One stage."""

    door = stages.StageDoor
    title = "Stage"
    hidden = ("name",)
    labels = _STAGE_LABELS
    acts = (
        Act("Its bench", "/bench/{code}/", {"is_active": [True]}, door="", is_main=True),
        Act("Its batches", "/batches/?stage={code}", door=""),
        Act("Change it", "change/"),
    )


class StageForm(ActPage):
    """A new stage."""

    door = stages.StagesDoor
    title = "Add a stage"
    done = "{code} is added."
    first = ("code", "name", "position")
    later = ("is_active",)
    labels = _STAGE_LABELS


class StageChange(ChangePage):
    """A stage, changed."""

    door = stages.StageChangeDoor
    title = "Change a stage"
    labels = _STAGE_LABELS
    helps: ClassVar = {"is_mixing": "Only while no bill stands at it."}


urlpatterns = [
    path("stages/", StagesPage.as_view()),
    path("stages/new/", StageForm.as_view()),
    path("stages/<str:code>/", StagePage.as_view()),
    path("stages/<str:code>/change/", StageChange.as_view()),
]
