"""What a person decided about reordering an item; everything else is computed."""

from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from inventory.catalog.models import Item


class ReorderPolicy(models.Model):
    """Overrides of the shop's defaults for one item.

    An empty field means the default or the computed figure.
    """

    known_by = "item__code"

    item = models.OneToOneField(
        Item, primary_key=True, on_delete=models.PROTECT, related_name="reorder_policy"
    )
    service = models.CharField(
        max_length=5,
        blank=True,
        choices=[("fill", "fill"), ("cycle", "cycle")],
        help_text="What the level is a share of: of use, or of order cycles. Empty: as the shop.",
    )
    service_level = models.DecimalField(
        max_digits=5,
        decimal_places=4,
        null=True,
        blank=True,
        help_text="Share of use found on the shelf, or of cycles that end without a shortage.",
    )
    review_days = models.PositiveIntegerField(null=True, blank=True)
    reorder_point_base = models.BigIntegerField(
        null=True, blank=True, help_text="Set by hand; says so in the list."
    )
    order_cost_micro = models.BigIntegerField(
        null=True, blank=True, help_text="Cost of placing one order."
    )
    holding_ratio_per_year = models.DecimalField(
        max_digits=5,
        decimal_places=4,
        null=True,
        blank=True,
        help_text="Share of the value that a year on the shelf costs.",
    )
    room_base = models.BigIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
        help_text="Most there is room for.",
    )
    order_value_max_micro = models.BigIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
        help_text="Most to spend on one order.",
    )
    is_watched = models.BooleanField(default=True, help_text="False: never in the reorder list.")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(service_level__isnull=True)
                | Q(service_level__gt=0.5, service_level__lt=1),
                name="policy_service_level_in_range",
            ),
            models.CheckConstraint(
                condition=Q(reorder_point_base__isnull=True) | Q(reorder_point_base__gte=0),
                name="policy_reorder_point_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(order_cost_micro__isnull=True) | Q(order_cost_micro__gte=0),
                name="policy_order_cost_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(holding_ratio_per_year__isnull=True) | Q(holding_ratio_per_year__gte=0),
                name="policy_holding_ratio_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(service__in=["", "fill", "cycle"]), name="policy_service_known"
            ),
            models.CheckConstraint(
                condition=Q(room_base__isnull=True) | Q(room_base__gt=0),
                name="policy_room_positive",
            ),
            models.CheckConstraint(
                condition=Q(order_value_max_micro__isnull=True) | Q(order_value_max_micro__gt=0),
                name="policy_order_value_positive",
            ),
        ]

    def __str__(self) -> str:
        return f"policy of {self.item_id}"

    @property
    def code(self) -> str:
        """That of its item, by which the audit names it."""
        return self.item.code
