"""Doors of what to count, and of how right the records were."""

from __future__ import annotations

from typing import Any, ClassVar

from django.urls import path
from django.utils import timezone
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.counting import selectors
from inventory.counting.rules import CLASSES
from inventory.stock.selectors.lots import as_json
from shopfloor.days import shop_day
from shopfloor.doors import ANYONE, Door, ListDoor
from shopfloor.doors.last_days import last_days
from shopfloor.fields import AmountSerializer, MoneyField, MoneyTextField, NumberField

SEARCH_LENGTH_MAX = 100


class CountTurnOut(serializers.Serializer[Any]):
    """An item, and when it is to be counted."""

    item = serializers.CharField(source="item.code")
    item_name = serializers.CharField(source="item.name")
    kind = serializers.ChoiceField(source="item.kind", choices=selectors.KINDS)
    abc = serializers.ChoiceField(CLASSES, help_text="Class by the value used in a year.")
    value_used = MoneyField(source="value_used_micro", help_text="Used up or sold in a year.")
    share = serializers.SerializerMethodField(help_text="Of all items' value used, 0 to 1.")
    on_hand = serializers.SerializerMethodField()
    lots = serializers.IntegerField(help_text="Of ours that hold something.")
    since_on = serializers.DateField(
        help_text="When the lot that waits longest was counted, or came in."
    )
    counted_on = serializers.DateField(
        allow_null=True, help_text="The last count of any of its lots; null: never."
    )
    planned_on = serializers.DateField(help_text="The working day to count it.")
    is_due = serializers.BooleanField(help_text="To be counted today.")

    def get_share(self, turn: Any) -> float:
        """To four places."""
        return round(float(turn.share), 4)

    @extend_schema_field(AmountSerializer())
    def get_on_hand(self, turn: Any) -> dict[str, str]:
        """For people."""
        return selectors.shown(turn)._asdict()


class CountingAskSerializer(serializers.Serializer[Any]):
    """Which items."""

    abc = serializers.ChoiceField(CLASSES, allow_blank=True, default="")
    kind = serializers.ChoiceField(selectors.KINDS, allow_blank=True, default="")
    is_due = serializers.BooleanField(allow_null=True, default=None)
    search = serializers.CharField(
        max_length=SEARCH_LENGTH_MAX,
        allow_blank=True,
        default="",
        help_text="Words in the item's code or name.",
    )


class CountClassOut(serializers.Serializer[Any]):
    """A class of items, or all of them."""

    abc = serializers.CharField(help_text="Empty: all classes.")
    items = serializers.IntegerField(help_text="Of which we hold something.")
    value_used = MoneyTextField(help_text="Used up or sold in a year.")
    working_days = serializers.IntegerField(
        allow_null=True, help_text="Within which each is counted again."
    )
    a_day = NumberField(help_text="Items to count on a working day.")
    tolerance = NumberField(
        allow_null=True, help_text="Share of the record that a count may be off."
    )
    lines = serializers.IntegerField(help_text="Lots counted in the days asked for.")
    right = serializers.IntegerField(help_text="Of them within the tolerance.")
    accuracy = NumberField(allow_null=True, help_text="Their share; null: none was counted.")
    net_value = MoneyTextField(help_text="What counts added, less what they took away.")
    gross_value = MoneyTextField(help_text="Both together.")


class CountClassesOut(serializers.Serializer[Any]):
    """Record accuracy by class."""

    first_on = serializers.DateField()
    last_on = serializers.DateField()
    classes = CountClassOut(many=True, help_text="A, B, C, and all of them.")


class CountingDoor(ListDoor):
    """What to count: every item on the shelf, first what is due."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": CountTurnOut}
    asks = CountingAskSerializer
    filter_backends = []  # they need a queryset, and this list is computed

    def listed(self) -> Any:
        """The list is computed whole, then filtered."""
        return selectors.selected(
            selectors.count_turns(on=shop_day(timezone.now())), **self.asked()
        )


class CountClassesDoor(Door):
    """How right the records were, by class, and how many items to count a day."""

    roles: ClassVar = {"GET": ANYONE}
    asks = last_days(365)
    gives: ClassVar = {"GET": CountClassesOut}

    def get(self, request: Request) -> Response:
        """Look."""
        asked = self.asked()
        rows = selectors.class_rows(on=shop_day(timezone.now()), **asked)
        return Response({**asked, "classes": as_json(rows)})


urlpatterns = [
    path("counting/", CountingDoor.as_view()),
    path("counting/classes/", CountClassesDoor.as_view()),
]
