"""What the season shall bring, and what a person set about planning an item.

What follows from them is computed, not kept.
"""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from batches.planning.rules.methods import LotSizing
from inventory.catalog.models import CODE_LENGTH, LIFE_DAYS_MAX, Item


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


WEEKS_SERVED_MAX = 104


class PlanningPolicy(models.Model):
    """What a person set about planning one item; an empty field means what is learned or usual."""

    known_by = "item__code"

    item = models.OneToOneField(
        Item, primary_key=True, on_delete=models.PROTECT, related_name="planning_policy"
    )
    lot_sizing = models.CharField(
        max_length=14, choices=[(each.value, each.value) for each in LotSizing], blank=True
    )
    lot_base = models.BigIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
        help_text="Base units of a fixed lot; of what is made, a batch.",
    )
    weeks_served = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(WEEKS_SERVED_MAX)],
        help_text="Weeks that an order by period serves.",
    )
    lead_time_days = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MaxValueValidator(LIFE_DAYS_MAX)],
        help_text="From order or start until it can be used.",
    )
    safety_stock_base = models.BigIntegerField(
        null=True, blank=True, validators=[MinValueValidator(0)]
    )

    scrap_ratio = models.DecimalField(
        max_digits=6,
        decimal_places=5,
        null=True,
        blank=True,
        help_text="Pieces lost per piece started, 0 to below 1.",
    )

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "planning policies"
        constraints = [
            models.CheckConstraint(
                condition=~Q(lot_sizing="fixed") | Q(lot_base__gte=1), name="planning_fixed_lot"
            ),
            models.CheckConstraint(
                condition=~Q(lot_sizing="period") | Q(weeks_served__gte=1),
                name="planning_period_weeks",
            ),
            models.CheckConstraint(
                condition=Q(safety_stock_base__isnull=True) | Q(safety_stock_base__gte=0),
                name="planning_safety_stock_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(scrap_ratio__isnull=True) | Q(scrap_ratio__gte=0, scrap_ratio__lt=1),
                name="planning_scrap_ratio_in_range",
            ),
        ]

    def __str__(self) -> str:
        return f"planning of {self.item_id}"
