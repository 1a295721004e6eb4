"""Pages of what to count when."""

from __future__ import annotations

from typing import ClassVar

from django.urls import path

from inventory.counting import api
from shopfloor.screens import Act, Column, ListPage, QuestionPage, Table


class CountingPage(ListPage):
    """What to count, first what is due."""

    door = api.CountingDoor
    title = "What to count"
    says = "Items on the shelf, first what is due today."
    columns = (
        Column("item", note="item_name"),
        Column("abc", "Class"),
        Column("on_hand"),
        Column("lots"),
        Column("counted_on", "Last counted"),
        Column("planned_on", "To be counted on"),
        Column("is_due", "Due"),
    )
    filters = ("is_due", "abc", "kind")
    preset: ClassVar = {"is_due": "true"}
    acts = (
        Act("Count", "/counts/new/", is_main=True),
        Act("How right the records were", "/counting/classes/", door=""),
    )
    to = ""
    none = "Nothing is to be counted today."


class CountClassesPage(QuestionPage):
    """How right the records were."""

    door = api.CountClassesDoor
    title = "How right the records were"
    says = "Counts of the last year, or of the days you name, by class of value used."
    tables = (Table("classes", "By class"),)


urlpatterns = [
    path("counting/", CountingPage.as_view()),
    path("counting/classes/", CountClassesPage.as_view()),
]
