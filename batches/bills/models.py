"""Stages, and what one piece takes at each.

Bills of materials by revision. A released revision never changes.
"""

from __future__ import annotations

from typing import ClassVar, Final

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.catalog.models import CODE_LENGTH, Item, Place

# SQL for `shopfloor.append_only`: what a released or retired revision says never changes.
_REVISION_RELEASED: Final = "(SELECT state FROM batches_billrevision WHERE id = {0}) <> 'draft'"
_LINE_RELEASED: Final = (
    "(SELECT r.state FROM batches_billline l JOIN batches_billrevision r ON r.id = l.revision_id"
    " WHERE l.id = {0}) <> 'draft'"
)


def _frozen_with(released: str, column: str) -> dict[str, str]:
    """Conditions of a table whose rows freeze with what a column points at."""
    old, new = released.format(f"OLD.{column}"), released.format(f"NEW.{column}")
    return {"insert": new, "update": f"{old} OR {new}", "delete": old}


class Stage(models.Model):
    """A step in how a lure comes to be; the shop renames, drops or adds some."""

    code = models.CharField(max_length=CODE_LENGTH, unique=True)
    name = models.CharField(max_length=120)
    position = models.PositiveIntegerField(help_text="Order in the shop; lower comes first.")
    is_mixing = models.BooleanField(
        default=False, help_text="It makes a lot of a mixture, not pieces."
    )
    place = models.ForeignKey(
        Place,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="stages",
        help_text="Where its output waits when the item has no storage place.",
    )
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["position", "code"]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class Bill(models.Model):
    """What one item takes at the stage that makes it, through all revisions."""

    known_by = "item__code"

    item = models.OneToOneField(Item, on_delete=models.PROTECT, related_name="bill")
    stage = models.ForeignKey(Stage, on_delete=models.PROTECT, related_name="bills")

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"bill of {self.item_id}"

    @property
    def code(self) -> str:
        """Its item's code; a query unless the item is loaded."""
        return self.item.code


class RevisionState(models.TextChoices):
    """Whether a revision may be changed, is in use, or is history."""

    DRAFT = "draft"
    CURRENT = "current"
    RETIRED = "retired"


class BillRevision(models.Model):
    """One revision of a bill."""

    bill = models.ForeignKey(Bill, on_delete=models.PROTECT, related_name="revisions")
    number = models.PositiveIntegerField()
    state = models.CharField(
        max_length=8, choices=RevisionState.choices, default=RevisionState.DRAFT
    )
    scrap_ratio = models.DecimalField(
        max_digits=6,
        decimal_places=5,
        default=0,
        help_text="Scrap allowed for: pieces lost per piece started, 0 to below 1.",
    )
    note = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="bill_revisions"
    )
    recorded_at = models.DateTimeField()
    released_at = models.DateTimeField(null=True, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    # Once released it is retired, and nothing else. The day of release is null for a dropped draft.
    frozen_when: ClassVar = {
        "update": "OLD.state <> 'draft' AND (NEW.state <> 'retired' OR OLD.state = 'retired'"
        " OR NEW.id <> OLD.id OR NEW.bill_id <> OLD.bill_id OR NEW.number <> OLD.number"
        " OR NEW.scrap_ratio <> OLD.scrap_ratio OR NEW.note <> OLD.note OR NEW.by_id <> OLD.by_id"
        " OR NEW.recorded_at <> OLD.recorded_at OR NEW.released_at IS NULL"
        " OR NEW.released_at <> OLD.released_at)",
        "delete": "OLD.state <> 'draft'",
    }

    class Meta:
        ordering = ["bill", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["bill", "number"], name="revision_number_once_per_bill"
            ),
            models.UniqueConstraint(
                fields=["bill"], condition=Q(state="current"), name="revision_one_current_per_bill"
            ),
            models.CheckConstraint(
                condition=Q(scrap_ratio__gte=0, scrap_ratio__lt=1),
                name="revision_scrap_ratio_in_range",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.bill} revision {self.number}"

    @property
    def code(self) -> str:
        """Its item's code and its number; queries unless bill and item are loaded."""
        return f"{self.bill.code}/{self.number}"


class LineRole(models.TextChoices):
    """Whether a line is taken, or comes off beside the good pieces."""

    TAKEN = "taken"
    BY_PRODUCT = "by_product"


class BillLine(models.Model):
    """What one piece takes of one item; for a mixture, what one base unit of it takes."""

    revision = models.ForeignKey(BillRevision, on_delete=models.CASCADE, related_name="lines")
    position = models.PositiveIntegerField()
    role = models.CharField(max_length=10, choices=LineRole.choices, default=LineRole.TAKEN)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="bill_lines")
    per_piece_base = models.DecimalField(
        max_digits=20, decimal_places=9, default=0, help_text="Base units of the item a piece."
    )
    per_batch_base = models.BigIntegerField(
        default=0, help_text="Base units once a batch: pot loss, purge, cup."
    )
    loss_ratio = models.DecimalField(
        max_digits=6,
        decimal_places=5,
        default=0,
        help_text="Share of the material lost on the way (overspray), 0 to below 1.",
    )
    value_ratio = models.DecimalField(
        max_digits=6,
        decimal_places=5,
        default=0,
        help_text="By-product only: share of the batch's value it carries.",
    )

    frozen_when: ClassVar = _frozen_with(_REVISION_RELEASED, "revision_id")

    class Meta:
        ordering = ["revision", "position"]
        constraints = [
            models.UniqueConstraint(
                fields=["revision", "position"], name="bill_line_position_once"
            ),
            models.UniqueConstraint(
                fields=["revision", "item", "role"], name="bill_line_item_once_per_role"
            ),
            models.CheckConstraint(
                condition=Q(per_piece_base__gte=0, per_batch_base__gte=0)
                & (Q(per_piece_base__gt=0) | Q(per_batch_base__gt=0)),
                name="bill_line_takes_something",
            ),
            models.CheckConstraint(
                condition=Q(loss_ratio__gte=0, loss_ratio__lt=1),
                name="bill_line_loss_ratio_in_range",
            ),
            models.CheckConstraint(
                condition=Q(role="by_product", value_ratio__gte=0, value_ratio__lt=1)
                | Q(value_ratio=0),
                name="bill_line_value_ratio_in_range",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.revision} line {self.position}"


class BillAlternative(models.Model):
    """An item that may stand in for a line's own, in order, up to a share (regrind)."""

    line = models.ForeignKey(BillLine, on_delete=models.CASCADE, related_name="alternatives")
    rank = models.PositiveIntegerField()
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="alternative_in")
    largest_ratio = models.DecimalField(
        max_digits=6,
        decimal_places=5,
        default=1,
        help_text="Largest share of the line's need it may cover, above 0 to 1.",
    )

    frozen_when: ClassVar = _frozen_with(_LINE_RELEASED, "line_id")

    class Meta:
        ordering = ["line", "rank"]
        constraints = [
            models.UniqueConstraint(fields=["line", "rank"], name="alternative_rank_once"),
            models.UniqueConstraint(fields=["line", "item"], name="alternative_item_once"),
            models.CheckConstraint(
                condition=Q(largest_ratio__gt=0, largest_ratio__lte=1),
                name="alternative_ratio_in_range",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.line} alternative {self.rank}"
