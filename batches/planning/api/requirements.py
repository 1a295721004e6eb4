"""Doors of requirements, and of what a person set about planning an item."""

from __future__ import annotations

from datetime import datetime
from operator import attrgetter
from typing import Any, ClassVar

from django.urls import path
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from batches.bills.api.shapes import RatioField
from batches.planning import operations
from batches.planning.rules.methods import LotSizing
from batches.planning.rules.weeks import monday
from batches.planning.selectors.actions import ActionKind
from batches.planning.selectors.leads import LeadSource
from batches.planning.selectors.pages import requirement_page
from batches.planning.selectors.planning import WEEKS
from batches.planning.selectors.policies import policy_row
from batches.planning.selectors.rows import requirement_rows, selected
from batches.planning.selectors.yields import GOOD_SOURCES
from inventory.catalog.api.fields import ShownAmountField
from inventory.catalog.selectors import ITEM_KINDS
from inventory.reorder.api.shapes import RowAmountField, RowPositionField
from shopfloor.days import shop_day
from shopfloor.doors import ANYONE, LEADS, Door, ListDoor
from shopfloor.fields import AmountSerializer, CodeField, PiecesField

WEEKS_SHOWN = 26
LEAD_DAYS_MAX = 3650
WEEKS_SERVED_MAX = 104
SIZINGS = [each.value for each in LotSizing]


class ActionOut(serializers.Serializer[Any]):
    """One thing to do, or what stands in the way."""

    kind = serializers.ChoiceField(choices=[each.value for each in ActionKind])
    document = serializers.CharField(help_text="The order or batch it is about, or empty.")
    detail = serializers.CharField()


class RequirementOut(serializers.Serializer[Any]):
    """An item: what is needed of it in the weeks planned, and what to do."""

    item = serializers.CharField(source="item.code")
    item_name = serializers.CharField(source="item.name")
    kind = serializers.ChoiceField(source="item.kind", choices=ITEM_KINDS)
    is_made = serializers.BooleanField(help_text="By a current bill; else bought.")
    on_hand = ShownAmountField(attrgetter("on_hand_base"), help_text="Ours, released, good today.")
    quarantined = ShownAmountField(
        attrgetter("quarantined_base"), help_text="Waits for its test; it is counted on."
    )
    promised = ShownAmountField(
        attrgetter("promised_base"), help_text="What open customer orders wait for."
    )
    free = RowPositionField(
        "free_base", help_text="On hand beyond what is promised; below zero: promised beyond it."
    )
    safety_stock = ShownAmountField(attrgetter("safety_stock_base"))
    past_due = ShownAmountField(
        attrgetter("wanted_past_base"), help_text="Promised for a week that is over."
    )
    gross = ShownAmountField(attrgetter("gross_base"), help_text="All that is needed.")
    coming = ShownAmountField(
        attrgetter("coming_base"), help_text="Of open supplier orders and batches."
    )
    planned = ShownAmountField(
        attrgetter("planned_base"), help_text="What must be ordered or made besides."
    )
    yield_mean = serializers.CharField(
        allow_null=True, help_text="Good pieces a started piece, of what is made."
    )
    yield_source = serializers.ChoiceField(
        choices=GOOD_SOURCES,
        allow_null=True,
        help_text="Set by hand; its latest runs; or its bill, where runs are too few.",
    )
    yield_runs = serializers.IntegerField(
        allow_null=True, help_text="Runs that it was learned from."
    )
    order_on = serializers.DateField(
        allow_null=True,
        help_text="The Monday of the week in which the first of it is ordered or begun.",
    )
    now = ShownAmountField(attrgetter("now_base"), help_text="What of it is for this week.")
    late = ShownAmountField(
        attrgetter("late_base"), help_text="What of that should have been before this week."
    )
    actions = ActionOut(many=True)


class WeekOut(serializers.Serializer[Any]):
    """A week of an item."""

    week_on = serializers.DateField(help_text="Its Monday.")
    gross = RowAmountField("gross_base")
    coming = RowAmountField("coming_base")
    net = RowAmountField("net_base", help_text="Needed, and covered by nothing.")
    planned = RowAmountField("planned_base", help_text="Must come this week.")
    released = RowAmountField("released_base", help_text="Is ordered or begun this week.")
    spoiled = RowAmountField("spoiled_base", help_text="Expired unused when the week begins.")
    projected = RowPositionField(
        "projected_base", help_text="At its end, if all comes as it shall; below zero: short."
    )


class TakerOut(serializers.Serializer[Any]):
    """What takes the item in a week."""

    week_on = serializers.DateField()
    kind = serializers.ChoiceField(choices=["plan", "order", "batch", "item"])
    code = serializers.CharField(help_text="Of the plan, the order, the batch, or what is made.")
    taken = RowAmountField("qty_base")


class PegOut(serializers.Serializer[Any]):
    """Who needs the item in the end."""

    week_on = serializers.DateField()
    kind = serializers.ChoiceField(choices=["plan", "order", "stock"])
    code = serializers.CharField()
    line = serializers.IntegerField(allow_null=True)
    wanted_item = serializers.CharField(allow_null=True, help_text="What the plan or order wants.")
    customer = serializers.CharField(allow_null=True)
    due_on = serializers.DateField(allow_null=True)
    needed = RowAmountField("qty_base", help_text="Of the item asked for.")


class ComingOut(serializers.Serializer[Any]):
    """An open order or batch that gives the item."""

    kind = serializers.ChoiceField(choices=["order", "batch"])
    code = serializers.CharField()
    due_on = serializers.DateField(help_text="As promised, else by its lead time.")
    still = RowAmountField("qty_base")


class RequirementPageOut(serializers.Serializer[Any]):
    """One item's requirements, week by week, for whom, and why."""

    row = RequirementOut()
    why = serializers.ListField(child=serializers.CharField())
    weeks = WeekOut(many=True)
    taken_by = TakerOut(source="takers", many=True, help_text="Adds up to each week's gross.")
    needed_for = PegOut(source="pegs", many=True, help_text="Adds up to each week's gross.")
    coming = ComingOut(many=True)
    lead_time_days = serializers.IntegerField(source="lead.days")
    lead_time_weeks = serializers.IntegerField(source="lead.weeks")
    lead_time_source = serializers.ChoiceField(
        source="lead.source", choices=[each.value for each in LeadSource]
    )
    lot_sizing = serializers.ChoiceField(source="sizing.method", choices=SIZINGS)


class RequirementAskSerializer(serializers.Serializer[Any]):
    """Which lines."""

    item = CodeField(allow_blank=True, default="")
    kind = serializers.ChoiceField(choices=ITEM_KINDS, allow_blank=True, default="")
    is_made = serializers.BooleanField(allow_null=True, default=None)
    has_action = serializers.BooleanField(
        allow_null=True, default=None, help_text="True: something is to be done."
    )
    weeks = serializers.IntegerField(
        min_value=1,
        max_value=WEEKS,
        allow_null=True,
        default=None,
        help_text="To be ordered or begun within so many weeks, this one included.",
    )


class PageAskSerializer(serializers.Serializer[Any]):
    """How many weeks are shown; all are planned."""

    weeks = serializers.IntegerField(min_value=1, max_value=WEEKS, default=WEEKS_SHOWN)


class PlanningPolicySerializer(serializers.Serializer[Any]):
    """What to set; null clears, what is not named stays."""

    lot_sizing = serializers.ChoiceField(choices=SIZINGS, required=False, allow_null=True)
    lot = AmountSerializer(required=False, allow_null=True, help_text="For fixed lots.")
    weeks_served = PiecesField(
        required=False,
        allow_null=True,
        min_value=1,
        max_value=WEEKS_SERVED_MAX,
        help_text="For orders by period.",
    )
    lead_time_days = PiecesField(required=False, allow_null=True, max_value=LEAD_DAYS_MAX)
    safety_stock = AmountSerializer(required=False, allow_null=True)
    scrap_ratio = RatioField(
        required=False,
        allow_null=True,
        help_text="Pieces lost per piece started, 0 to below 1; stands over runs and bill.",
    )


class PlanningPolicyOut(serializers.Serializer[Any]):
    """What a person set; null where what is learned or usual holds."""

    item = serializers.CharField(source="item.code")
    lot_sizing = serializers.ChoiceField(choices=SIZINGS, allow_null=True)
    lot = RowAmountField("lot_base", allow_null=True)
    weeks_served = serializers.IntegerField(allow_null=True)
    lead_time_days = serializers.IntegerField(allow_null=True)
    safety_stock = RowAmountField("safety_stock_base", allow_null=True)
    scrap_ratio = RatioField(allow_null=True)

    def to_representation(self, instance: Any) -> dict[str, Any]:
        """The row; no way to gather orders is null, as it is sent."""
        found = super().to_representation(instance)
        return {**found, "lot_sizing": found["lot_sizing"] or None}


class RequirementsDoor(ListDoor):
    """What plans and orders ask of every item for a year of weeks; the most urgent first."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": RequirementOut}
    asks = RequirementAskSerializer
    filter_backends = []  # they need a queryset, and this list is computed

    def listed(self) -> Any:
        """The list is computed whole, then filtered."""
        now = timezone.now()
        return selected(requirement_rows(now=now), on=monday(shop_day(now)), **self.asked())


class RequirementDoor(Door):
    """One item, week by week: how much, for whom, why."""

    roles: ClassVar = {"GET": ANYONE}
    gives: ClassVar = {"GET": RequirementPageOut}
    asks = PageAskSerializer

    def get(self, request: Request, code: str) -> Response:
        """Its weeks, who takes it, which plan or order needs it, and why."""
        page = requirement_page(code=code, now=timezone.now(), weeks=self.asked()["weeks"])
        return Response(RequirementPageOut(page).data)


class PlanningPolicyDoor(Door):
    """What a person set about planning an item."""

    roles: ClassVar = {"GET": ANYONE, "POST": LEADS}
    takes: ClassVar = {"POST": PlanningPolicySerializer}
    gives: ClassVar = {"GET": PlanningPolicyOut, "POST": (200, PlanningPolicyOut)}

    def get(self, request: Request, code: str) -> Response:
        """What is set."""
        return Response(PlanningPolicyOut(policy_row(code)).data)

    def post(self, request: Request, code: str) -> Response:
        """Set or clear it. Kept: who changed what, and when."""
        now: datetime = timezone.now()
        return self.once(
            request,
            operations.set_planning_policy,
            lambda policy: dict(PlanningPolicyOut(policy_row(policy.item.code)).data),
            item_code=code,
            fields=self.read(),
            by=self.person,
            at=now,
        )


urlpatterns = [
    path("planning/requirements/", RequirementsDoor.as_view()),
    path("planning/requirements/<str:code>/", RequirementDoor.as_view()),
    path("planning/requirements/<str:code>/policy/", PlanningPolicyDoor.as_view()),
]
