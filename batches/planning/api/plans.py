"""Doors of build plans."""

from __future__ import annotations

from typing import Any, ClassVar

from django.urls import path
from rest_framework import serializers

from batches.planning import operations
from batches.planning.filters import BuildPlanFilter
from batches.planning.selectors.plans import build_plan, build_plans
from inventory.catalog.api.doors import CatalogListDoor, ChangeDoor, OneDoor
from shopfloor.codes.alphabet import OWN_CODE_LENGTH_MAX
from shopfloor.fields import AtField, CodeField, DayField, PiecesField

LINES_MAX = 2000


class PlanLineSerializer(serializers.Serializer[Any]):
    """Pieces that shall be ready in a week."""

    item = CodeField(max_length=OWN_CODE_LENGTH_MAX)
    week_on = DayField(help_text="Any day of the week.")
    pieces = PiecesField(help_text="Good pieces; 0 takes the line out.")

    def to_internal_value(self, data: Any) -> operations.PlanLine:
        """Read it."""
        parts = super().to_internal_value(data)
        return operations.PlanLine(parts["item"], parts["week_on"], parts["pieces"])


class ChangeBuildPlanSerializer(serializers.Serializer[Any]):
    """What changes; of the lines, those that are named."""

    name = serializers.CharField(max_length=120, required=False)
    note = serializers.CharField(max_length=300, required=False, allow_blank=True)
    is_active = serializers.BooleanField(
        required=False, help_text="False: nothing is planned by it any more."
    )
    lines = serializers.ListField(
        child=PlanLineSerializer(), required=False, allow_empty=False, max_length=LINES_MAX
    )


class NewBuildPlanSerializer(ChangeBuildPlanSerializer):
    """A plan."""

    code = CodeField(max_length=OWN_CODE_LENGTH_MAX)
    name = serializers.CharField(max_length=120)


class BuildPlanLineOut(serializers.Serializer[Any]):
    """Pieces that shall be ready in a week."""

    item = serializers.CharField(source="item.code")
    item_name = serializers.CharField(source="item.name")
    week_on = serializers.DateField(help_text="Its Monday.")
    pieces = serializers.IntegerField(source="qty_base")


class BuildPlanOut(serializers.Serializer[Any]):
    """A plan, its lines in the order of weeks."""

    code = serializers.CharField()
    name = serializers.CharField()
    note = serializers.CharField()
    is_active = serializers.BooleanField()
    by = serializers.CharField(source="by.username")
    recorded_at = AtField()
    lines = BuildPlanLineOut(many=True)


class BuildPlansDoor(CatalogListDoor):
    """What the season shall bring: which lures, how many, ready by which week; and a new plan."""

    takes: ClassVar = {"POST": NewBuildPlanSerializer}
    gives: ClassVar = {"GET": BuildPlanOut, "POST": BuildPlanOut}
    create = operations.create_build_plan
    filterset_class = BuildPlanFilter
    search_fields = ("code", "name", "note")
    ordering_fields = ("code", "name", "recorded_at")

    def get_queryset(self) -> Any:
        """All of them."""
        return build_plans()

    def found(self, code: str) -> Any:
        """One plan."""
        return build_plan(code)


class BuildPlanDoor(OneDoor):
    """One plan."""

    gives: ClassVar = {"GET": BuildPlanOut}

    def found(self, code: str) -> Any:
        """One plan."""
        return build_plan(code)


class ChangeBuildPlanDoor(ChangeDoor):
    """A change of a plan."""

    takes: ClassVar = {"POST": ChangeBuildPlanSerializer}
    gives: ClassVar = {"POST": (200, BuildPlanOut)}
    change = operations.change_build_plan

    def found(self, code: str) -> Any:
        """One plan."""
        return build_plan(code)


urlpatterns = [
    path("build-plans/", BuildPlansDoor.as_view()),
    path("build-plans/<str:code>/", BuildPlanDoor.as_view()),
    path("build-plans/<str:code>/change/", ChangeBuildPlanDoor.as_view()),
]
