"""Doors of what can be built today."""

from __future__ import annotations

from typing import Any, ClassVar

from django.urls import path
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from batches.planning.api.fields import BetweenField
from batches.planning.selectors.buildable import buildable
from batches.planning.selectors.mixes import BY_CHOICES, LURES_MAX, mix
from inventory.stock.selectors.lots import as_json
from shopfloor.doors import ANYONE, Door
from shopfloor.fields import AmountSerializer, CodeField, MoneyTextField, NumberField, PiecesField

LURES_LENGTH_MAX = 2_000


class HoursSerializer(serializers.Serializer[Any]):
    """How much bench time there is."""

    hours = BetweenField(
        "0",
        "10000",
        what="number of hours",
        required=False,
        help_text="Bench hours that there are, all people together; else as many as it takes.",
    )


class LuresField(serializers.CharField):
    """`CODE,CODE:200`: codes, and at most how many where it says so."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(allow_blank=True, max_length=LURES_LENGTH_MAX, **kwargs)

    def run_validation(self, data: Any = serializers.empty) -> Any:
        """The most of each code, None where there is none."""
        found: dict[str, int | None] = {}
        for part in filter(None, super().run_validation(data).split(",")):
            code, _, most = part.partition(":")
            name = CodeField().run_validation(code)
            found[name] = PiecesField().run_validation(most.strip()) if most else None
        return found


class BuildableAskSerializer(HoursSerializer):
    """Of what, and what comes before."""

    item = CodeField(help_text="Code of an item that we make.")
    orders_first = serializers.BooleanField(
        default=True, help_text="Build first what open orders of other items still lack."
    )


class MixAskSerializer(HoursSerializer):
    """Which lures, and what makes a mix good."""

    by = serializers.ChoiceField(
        BY_CHOICES,
        default="margin",
        help_text="margin: price less material; demand: pieces that open orders wait for.",
    )
    lures = LuresField(
        default="",
        help_text=f"Codes with commas, at most {LURES_MAX}; CODE:200 for at most 200 of it. Empty:"
        " all that go into nothing else, or all that open orders wait for.",
    )


class BuildTakenOut(serializers.Serializer[Any]):
    """What a batch takes of one item."""

    item = serializers.CharField()
    amount = AmountSerializer()
    stands_for = serializers.CharField(allow_null=True, help_text="The item it stands in for.")


class BuildStepOut(serializers.Serializer[Any]):
    """One batch to make."""

    item = serializers.CharField()
    item_name = serializers.CharField()
    stage = serializers.CharField()
    good = AmountSerializer()
    worked = AmountSerializer(help_text="With the scrap that the bill plans.")
    takes = BuildTakenOut(many=True)


class BottleneckOut(serializers.Serializer[Any]):
    """An item that has to be there, and how far it goes."""

    item = serializers.CharField()
    item_name = serializers.CharField()
    free = AmountSerializer(help_text="Usable now and not promised.")
    allows = serializers.IntegerField(
        allow_null=True, help_text="Pieces, were there plenty of all else; null: a million or more."
    )
    pack = AmountSerializer(allow_null=True)
    more_with_pack = serializers.IntegerField(
        allow_null=True, help_text="Pieces more with one pack more of this alone."
    )
    is_made = serializers.BooleanField(help_text="We make it, and no bill of it is in force.")


class PiecesOfOut(serializers.Serializer[Any]):
    """So many pieces of an item."""

    item = serializers.CharField()
    pieces = serializers.IntegerField()


class BuildableOut(serializers.Serializer[Any]):
    """The most of one item that can be built today."""

    item = serializers.CharField()
    item_name = serializers.CharField()
    pieces = serializers.IntegerField(help_text="New ones, beside those on the shelf.")
    at_most = serializers.IntegerField(
        help_text="No plan makes more; above `pieces` only if that was not proved in time."
    )
    usable = AmountSerializer(help_text="Finished ones on the shelf.")
    promised = serializers.IntegerField(help_text="Pieces that open orders wait for.")
    hours = NumberField(help_text="Bench hours it takes.")
    untimed = serializers.ListField(
        child=serializers.CharField(), help_text="Made of it, and no entry says how long it takes."
    )
    set_aside = PiecesOfOut(many=True, help_text="Built first, for open orders of others.")
    bottlenecks = BottleneckOut(many=True, help_text="The tightest first, some five.")
    steps = BuildStepOut(many=True, help_text="What to make, first things first.")
    why = serializers.ListField(child=serializers.CharField())


class MixLureOut(serializers.Serializer[Any]):
    """One lure of a mix."""

    item = serializers.CharField()
    item_name = serializers.CharField()
    pieces = serializers.IntegerField()
    most = serializers.IntegerField(allow_null=True, help_text="As asked for; null: no limit.")
    price = MoneyTextField(allow_null=True, help_text="By the last customer order that has it.")
    material = MoneyTextField(allow_null=True, help_text="Of one, without what goes once a batch.")
    missing_for_one_more = serializers.ListField(
        child=serializers.CharField(), help_text="Items that are short for one more of it."
    )


class MixLeftOutOut(serializers.Serializer[Any]):
    """A lure that could not be weighed."""

    item = serializers.CharField()
    why = serializers.CharField()


class MixMoreOut(serializers.Serializer[Any]):
    """What more of one thing alone would give."""

    item = serializers.CharField(allow_null=True, help_text="Null: bench hours.")
    more = AmountSerializer(allow_null=True, help_text="One pack; null: one bench hour.")
    gain = serializers.CharField(help_text="Margin, or pieces.")
    lures = PiecesOfOut(many=True, help_text="The mix then.")


class MixOut(serializers.Serializer[Any]):
    """The best mix of several lures."""

    by = serializers.ChoiceField(BY_CHOICES)
    value = serializers.CharField(help_text="Margin in the shop's currency, or pieces.")
    value_at_most = serializers.CharField(help_text="No mix is worth more.")
    is_best = serializers.BooleanField(help_text="Whether that was proved.")
    lures = MixLureOut(many=True)
    left_out = MixLeftOutOut(many=True)
    hours = NumberField()
    untimed = serializers.ListField(child=serializers.CharField())
    with_more = MixMoreOut(many=True, help_text="One pack more of what is short, each alone.")
    steps = BuildStepOut(many=True)
    why = serializers.ListField(child=serializers.CharField())


class BuildableDoor(Door):
    """The most of one item that can be built from what is released today, through all levels."""

    roles: ClassVar = {"GET": ANYONE}
    asks = BuildableAskSerializer
    gives: ClassVar = {"GET": BuildableOut}

    def get(self, request: Request) -> Response:
        """Look."""
        asked = self.asked()
        row = buildable(item_code=asked.pop("item"), now=timezone.now(), **asked)
        return Response(as_json(row))


class MixDoor(Door):
    """The best mix of several lures from what is released today, within some bench hours."""

    roles: ClassVar = {"GET": ANYONE}
    asks = MixAskSerializer
    gives: ClassVar = {"GET": MixOut}

    def get(self, request: Request) -> Response:
        """Look."""
        return Response(as_json(mix(now=timezone.now(), **self.asked())))


urlpatterns = [
    path("planning/buildable/", BuildableDoor.as_view()),
    path("planning/buildable/mix/", MixDoor.as_view()),
]
