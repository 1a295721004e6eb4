"""The door of how many to start."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, ClassVar

from django.urls import path
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from batches.planning.api.fields import BetweenField
from batches.planning.rules.program import PIECES_CAP
from batches.planning.selectors.starting import DAYS_A_WEEK, HOURS_A_DAY, Pace, starting
from batches.planning.selectors.yields import SOURCES
from inventory.stock.selectors.lots import as_json
from shopfloor.doors import ANYONE, Door
from shopfloor.fields import CodeField, DayField, NumberField, PiecesField

CHANCE_MIN, CHANCE_MAX = "0.5", "0.99"
DAY_SECONDS = 86_400


class StartingAskSerializer(serializers.Serializer[Any]):
    """What is wanted, how surely, by when, and how fast the shop works."""

    item = CodeField(help_text="Code of an item that we make, in pieces.")
    good = PiecesField(min_value=1, max_value=PIECES_CAP, help_text="Good ones wanted, new ones.")
    chance = BetweenField(
        CHANCE_MIN,
        CHANCE_MAX,
        what="chance",
        default=Decimal("0.95"),
        help_text="That at least so many are good. No number makes it sure.",
    )
    due_on = DayField(required=False, help_text="The day they must be ready.")
    hours_a_day = BetweenField(
        "0.5",
        "1000",
        what="number of hours",
        default=HOURS_A_DAY,
        help_text="Bench hours a working day at one stage, all people together.",
    )
    days_a_week = PiecesField(
        min_value=1, max_value=7, default=DAYS_A_WEEK, help_text="Working days, from Monday on."
    )
    coats = PiecesField(max_value=20, default=0, help_text="Of paint, one after the other.")
    drying_hours = BetweenField(
        "0", "240", what="number of hours", default=Decimal(0), help_text="Of one coat."
    )
    wheel = CodeField(default="", allow_blank=True, help_text="Code of the gluing wheel.")
    clamp_seconds = PiecesField(
        required=False, min_value=1, max_value=DAY_SECONDS, help_text="The adhesive maker's figure."
    )
    index_seconds = BetweenField(
        "0.1",
        str(DAY_SECONDS),
        what="number of seconds",
        required=False,
        help_text="From one station to the next; as fast as the clamping allows, if not given.",
    )


class StartStepOut(serializers.Serializer[Any]):
    """One run to start. Low and high: nine times in ten it lies between."""

    item = serializers.CharField()
    item_name = serializers.CharField()
    stage = serializers.CharField()
    start = serializers.IntegerField(
        allow_null=True,
        help_text="Pieces; null: all good ones of the stage before, and what waits.",
    )
    comes = serializers.IntegerField(help_text="Pieces worked on, on average.")
    comes_low = serializers.IntegerField()
    comes_high = serializers.IntegerField()
    good = serializers.IntegerField(help_text="Those of them that are good, on average.")
    good_low = serializers.IntegerField()
    good_high = serializers.IntegerField()
    waiting = serializers.IntegerField(help_text="That stand there, for the stages after.")
    yield_mean = NumberField(help_text="Of a next run, 0 to 1.")
    yield_sd = NumberField(help_text="How much a next run's may differ; few runs make it wider.")
    yield_planned = NumberField(help_text="By the bill.")
    runs = serializers.IntegerField(help_text="That it was learned from.")
    yield_source = serializers.ChoiceField(
        SOURCES, help_text="Runs of its own, of all items at its stage, or the bill's plan alone."
    )
    hours = NumberField(allow_null=True, help_text="At the bench, for as many as may come.")
    start_on_last = serializers.DateField(allow_null=True, help_text="To be ready in time.")


class StartingOut(serializers.Serializer[Any]):
    """What to start so that enough are good."""

    item = serializers.CharField()
    item_name = serializers.CharField()
    wanted = serializers.IntegerField()
    chance = NumberField(help_text="As asked for.")
    sure = NumberField(help_text="The chance reached.")
    sure_with_one_fewer = NumberField(help_text="The same with one piece fewer started.")
    by_means = serializers.DictField(
        child=serializers.IntegerField(), help_text="What mean yields alone would start, by item."
    )
    due_on = serializers.DateField(allow_null=True)
    start_on_last = serializers.DateField(allow_null=True)
    is_late = serializers.BooleanField(help_text="A stage should have begun before today.")
    steps = StartStepOut(many=True, help_text="First things first.")
    why = serializers.ListField(child=serializers.CharField())


class StartingDoor(Door):
    """How many pieces to start at each stage, so that enough come out good.

    Yields are learned from the shop's runs; how few they are, and how they differ, is counted in.
    """

    roles: ClassVar = {"GET": ANYONE}
    asks = StartingAskSerializer
    gives: ClassVar = {"GET": StartingOut}

    def get(self, request: Request) -> Response:
        """Look."""
        asked = self.asked()
        wanted = {name: asked.pop(name) for name in ("good", "chance")}
        item, due_on = asked.pop("item"), asked.pop("due_on", None)
        found = starting(
            item_code=item, due_on=due_on, now=timezone.now(), pace=Pace(**asked), **wanted
        )
        return Response(as_json(found))


urlpatterns = [path("planning/starting/", StartingDoor.as_view())]
