"""Pages of scrap reasons."""

from __future__ import annotations

from django.urls import path

from batches.runs.api import doors
from shopfloor.screens import Act, ActPage, Column, ListPage


class ReasonsPage(ListPage):
    """Scrap reasons."""

    door = doors.ScrapReasonsDoor
    title = "Scrap reasons"
    says = "Why pieces did not become good ones; what checks and complaints call a defect."
    columns = (
        Column("code"),
        Column("name"),
        Column("stage"),
        Column("is_active"),
    )
    to = ""
    acts = (Act("Add a reason", "/scrap-reasons/new/", is_main=True),)
    none = "No reasons yet. Add those that the bench will tap."


class ReasonForm(ActPage):
    """A new reason."""

    door = doors.ScrapReasonsDoor
    title = "Add a scrap reason"
    says = "With a stage it is offered at that bench alone."
    done = "{code} is added."
    lands = "/scrap-reasons/"


urlpatterns = [
    path("scrap-reasons/", ReasonsPage.as_view()),
    path("scrap-reasons/new/", ReasonForm.as_view()),
]
