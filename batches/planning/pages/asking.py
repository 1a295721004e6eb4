"""Pages that answer a question of planning: what can be built, the best mix, how many to start."""

from __future__ import annotations

from typing import ClassVar

from django.urls import path

from batches.planning.api import buildable, starting
from shopfloor.screens import Column, QuestionPage, Table

_STEPS = Table(
    "steps",
    "What to make, first things first",
    (
        Column("item", note="item_name"),
        Column("stage"),
        Column("good"),
        Column("worked", "Worked on"),
        Column("takes"),
    ),
)


class BuildablePage(QuestionPage):
    """The most of one lure from what is released today."""

    door = buildable.BuildableDoor
    title = "What can be built"
    says = "The most of one item from what is released today, through all its levels."
    facts = ("pieces", "at_most", "usable", "promised", "hours", "untimed")
    labels: ClassVar = {
        "pieces": "New pieces",
        "at_most": "No plan makes more than",
        "usable": "Finished ones on the shelf",
        "promised": "Pieces that open orders wait for",
        "hours": "Bench hours",
        "untimed": "No entry says how long it takes to make",
        "orders_first": "Build first what open orders of other items lack",
    }
    later = ("hours", "orders_first")
    tables = (
        Table(
            "bottlenecks",
            "What it ends at, the tightest first",
            (
                Column("item", note="item_name"),
                Column("free", "Free now"),
                Column("allows", "Enough for"),
                Column("pack"),
                Column("more_with_pack", "More with one pack"),
            ),
        ),
        _STEPS,
        Table("set_aside", "Built first, for open orders of others"),
    )


class MixPage(QuestionPage):
    """The best mix of several lures."""

    door = buildable.MixDoor
    title = "The best mix"
    says = "How many of which lure, where they share what is short."
    facts = ("value", "value_at_most", "is_best", "hours", "untimed")
    labels: ClassVar = {
        "by": "By what it is the best",
        "lures": "Lures by commas; CODE:200 for at most 200 of one; empty for all",
        "hours": "Bench hours that there are",
        "value": "Worth",
        "value_at_most": "No mix is worth more than",
        "is_best": "Proved to be the best",
        "untimed": "No entry says how long it takes to make",
    }
    tables = (
        Table(
            "lures",
            "The mix",
            (
                Column("item", note="item_name"),
                Column("pieces"),
                Column("most", "At most"),
                Column("price"),
                Column("material"),
                Column("missing_for_one_more", "Short for one more"),
            ),
        ),
        Table("with_more", "What more of one thing alone would give"),
        Table("left_out", "Left out"),
        _STEPS,
    )


class StartingPage(QuestionPage):
    """How many to start."""

    door = starting.StartingDoor
    title = "How many to start"
    says = "So that at least as many come out good as are wanted, as surely as you ask for."
    facts = ("sure", "sure_with_one_fewer", "due_on", "start_on_last", "is_late")
    labels: ClassVar = {
        "good": "Good pieces wanted",
        "chance": "How surely, 0.5 to 0.99",
        "due_on": "Ready on",
        "sure": "Chance reached",
        "sure_with_one_fewer": "With one piece fewer",
        "start_on_last": "Last day to start",
        "is_late": "Should have begun before today",
        "hours_a_day": "Bench hours a working day at a stage",
        "days_a_week": "Working days a week",
        "coats": "Coats of paint",
        "drying_hours": "Hours a coat dries",
        "wheel": "Gluing wheel",
        "clamp_seconds": "Seconds the adhesive must be clamped",
        "index_seconds": "Seconds from one station to the next",
    }
    later = (
        *("hours_a_day", "days_a_week", "coats", "drying_hours"),
        *("wheel", "clamp_seconds", "index_seconds"),
    )
    tables = (
        Table(
            "steps",
            "Start, first things first",
            (
                Column("stage"),
                Column("item", note="item_name"),
                Column("start"),
                Column("waiting", "Waits there"),
                Column("good", "Good, on average"),
                Column("good_low", "At least, 9 of 10 times"),
                Column("good_high", "At most"),
                Column("yield_mean", "Yield"),
                Column("runs", "Learned from runs"),
                Column("hours"),
                Column("start_on_last", "Last day to start"),
            ),
        ),
    )


urlpatterns = [
    path("planning/buildable/", BuildablePage.as_view()),
    path("planning/buildable/mix/", MixPage.as_view()),
    path("planning/starting/", StartingPage.as_view()),
]
