"""What the season shall bring: build plans. What follows from them is computed, not kept."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.catalog.models import CODE_LENGTH, Item


class BuildPlan(models.Model):
    """Which lures shall be ready by which week."""

    code = models.CharField(max_length=CODE_LENGTH, unique=True)
    name = models.CharField(max_length=120)
    note = models.CharField(max_length=300, blank=True)
    is_active = models.BooleanField(default=True, help_text="False: nothing is planned by it.")
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="build_plans"
    )
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class BuildPlanLine(models.Model):
    """Good pieces of one item that shall be ready in one week."""

    plan = models.ForeignKey(BuildPlan, on_delete=models.PROTECT, related_name="lines")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="build_plan_lines")
    week_on = models.DateField(help_text="The Monday of the week.")
    qty_base = models.BigIntegerField()
    recorded_at = models.DateTimeField(help_text="What left before is not what it plans.")

    class Meta:
        ordering = ["plan", "week_on", "item"]
        constraints = [
            models.UniqueConstraint(
                fields=["plan", "item", "week_on"], name="build_plan_line_once_a_week"
            ),
            models.CheckConstraint(condition=Q(qty_base__gt=0), name="build_plan_line_positive"),
        ]

    def __str__(self) -> str:
        return f"{self.plan_id}: {self.qty_base} of {self.item_id} in {self.week_on}"
