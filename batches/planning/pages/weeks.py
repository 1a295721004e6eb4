"""Pages of requirements, week by week, and of what customers were promised."""

from __future__ import annotations

from typing import ClassVar

from django.urls import path

from batches.planning.api import promises, requirements
from shopfloor.screens import Act, ChangePage, Column, ListPage, Table, ThingPage

_ITEM = Column("item", note="item_name")


class RequirementsPage(ListPage):
    """What plans and orders ask of every item."""

    door = requirements.RequirementsDoor
    title = "Requirements"
    says = "What build plans and customer orders ask of every item, the most urgent first."
    columns = (
        _ITEM,
        Column("order_on", "Order or begin in the week of"),
        Column("planned", "Order or make"),
        Column("now", "Of it this week"),
        Column("late", "Late"),
        Column("gross", "Needed"),
        Column("on_hand", "On hand"),
        Column("coming", "Coming"),
    )
    filters = ("item", "kind", "is_made", "has_action", "weeks")
    acts = (
        Act("Build plans", "/build-plans/", door=""),
        Act("What is promised", "/planning/promises/", door=""),
    )
    none = "Nothing is asked for: no build plan is in force, and no customer order waits."
    to = "/planning/requirements/"


class RequirementPage(ThingPage):
    """One item, week by week: how much, for whom, why."""

    door = requirements.RequirementDoor
    title = "Requirements of"
    inner = "row"
    template = "batches/requirement.html"
    facts = (
        *("on_hand", "quarantined", "promised", "free", "safety_stock", "past_due"),
        *("gross", "planned", "order_on", "now", "late"),
        *("lead_time_days", "lead_time_source", "lot_sizing"),
    )
    labels: ClassVar = {
        "quarantined": "Waits for its test",
        "free": "Free: on hand beyond what is promised",
        "past_due": "Promised for a week that is over",
        "gross": "Needed in all",
        "planned": "To be ordered or made besides",
        "order_on": "First of it in the week of",
        "now": "Of it this week",
        "late": "Of it late",
        "lot_sizing": "Gathered into orders by",
    }
    tables = (
        Table(
            "weeks",
            "Week by week",
            (
                Column("week_on", "Week of"),
                Column("gross", "Needed"),
                Column("coming"),
                Column("net", "Not covered"),
                Column("planned", "Must come"),
                Column("released", "Order or begin"),
                Column("spoiled", "Expires unused"),
                Column("projected", "At its end"),
            ),
        ),
        Table(
            "needed_for",
            "For whom",
            (
                Column("week_on", "Week of"),
                Column("kind", "By"),
                Column("code"),
                Column("wanted_item", "Wanted", to="items"),
                Column("customer"),
                Column("due_on", "Due"),
                Column("needed"),
            ),
        ),
        Table("taken_by", "Taken by"),
    )
    acts = (
        Act("What a person decides", "policy/"),
        Act("The item", "/items/{item}/", door=""),
        Act("Its reorder figures", "/reorder/{item}/", door=""),
    )

    def heading(self, thing: object) -> str:
        """The item."""
        assert isinstance(thing, dict)
        return f"{thing['item']} {thing['item_name']}"


class PlanningPolicyForm(ChangePage):
    """What a person decides about planning an item."""

    door = requirements.PlanningPolicyDoor
    title = "What a person decides"
    says = "Empty: what is learned from the records, or usual, holds."
    labels: ClassVar = {
        "lot_sizing": "Gather orders by",
        "lot": "Lot, for fixed lots",
        "weeks_served": "Weeks an order serves, for orders by period",
        "scrap_ratio": "Pieces lost per piece started, 0 to below 1",
    }

    def thing_address(self) -> str:
        """It says itself what is set."""
        return self.api_address


class PromisesPage(ListPage):
    """What customers wait for."""

    door = promises.PromisesDoor
    title = "Promised"
    says = "What customers wait for, the earliest promised first, and what serves it."
    columns = (
        Column("order", to="customer-orders"),
        Column("customer"),
        _ITEM,
        Column("promised_on", "Promised"),
        Column("waiting"),
        Column("reserved", "From the shelf"),
        Column("coming"),
        Column("coming_on", "Comes"),
        Column("planned", "To be made"),
        Column("begin_on", "Begin in the week of"),
        Column("is_late", "Late"),
    )
    filters = ("item", "customer", "is_late")
    to = ""
    none = "No customer order waits."


urlpatterns = [
    path("planning/requirements/", RequirementsPage.as_view()),
    path("planning/requirements/<str:code>/", RequirementPage.as_view()),
    path("planning/requirements/<str:code>/policy/", PlanningPolicyForm.as_view()),
    path("planning/promises/", PromisesPage.as_view()),
]
