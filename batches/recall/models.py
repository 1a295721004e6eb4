"""Recalls, in earnest or to see whether we could: begun, noted, closed; rows are only added."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from batches.packing.models import Customer
from inventory.catalog.models import Item
from inventory.stock.models import Hold, Lot
from shopfloor.append_only import AppendOnly
from shopfloor.codes.alphabet import encode


class RecallKind(models.TextChoices):
    """Whether it is meant."""

    MOCK = "mock", "a mock recall: nothing is held"
    REAL = "real", "a recall: everything at risk is held"


class Recall(AppendOnly):
    """A case: from which lots, since when, and why."""

    kind = models.CharField(max_length=4, choices=RecallKind.choices)
    at = models.DateTimeField(help_text="When somebody asked: the clock runs from here.")
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="recalls"
    )
    reason = models.CharField(max_length=300)
    asked = models.CharField(max_length=600, help_text="What it began from, in words.")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="recall_says_why"),
            models.CheckConstraint(
                condition=Q(recorded_at__gte=F("at")), name="recall_not_in_the_future"
            ),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def code(self) -> str:
        """Its public code, made of its number."""
        return encode(self.pk, "Q")


class RecallLot(AppendOnly):
    """A lot that a recall begins from."""

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="lots")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="recalls")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["recall", "lot"], name="recall_lot_once"),
        ]

    def __str__(self) -> str:
        return f"{self.lot_id} in {self.recall_id}"


class RecallHold(AppendOnly):
    """A hold that a recall placed."""

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="holds")
    hold = models.OneToOneField(Hold, on_delete=models.PROTECT, related_name="from_recall")

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.hold_id} by {self.recall_id}"


class RecallNote(AppendOnly):
    """What was done or heard: whom we told, what they answered, what they destroyed there."""

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="notes")
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="recall_notes"
    )
    reason = models.CharField(max_length=300, help_text="What was done or heard, in words.")
    customer = models.ForeignKey(
        Customer, null=True, blank=True, on_delete=models.PROTECT, related_name="recall_notes"
    )
    item = models.ForeignKey(
        Item, null=True, blank=True, on_delete=models.PROTECT, related_name="recall_notes"
    )
    destroyed_base = models.BigIntegerField(
        default=0, help_text="Pieces that the customer says were destroyed there."
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="recall_note_says_something"),
            models.CheckConstraint(
                condition=Q(recorded_at__gte=F("at")), name="recall_note_not_in_the_future"
            ),
            models.CheckConstraint(
                condition=Q(destroyed_base=0, item__isnull=True)
                | Q(destroyed_base__gt=0, item__isnull=False, customer__isnull=False),
                name="recall_note_destroyed_where_and_what",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.recall_id}: {self.reason}"


class RecallClosing(AppendOnly):
    """The end of a case: who closed it, and what was concluded."""

    recall = models.OneToOneField(Recall, on_delete=models.PROTECT, related_name="closing")
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="recall_closings"
    )
    reason = models.CharField(max_length=300)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="recall_closing_says_what"),
            models.CheckConstraint(
                condition=Q(recorded_at__gte=F("at")), name="recall_closing_not_in_the_future"
            ),
        ]

    def __str__(self) -> str:
        return f"closing of {self.recall_id}"


class RecallMoment(models.TextChoices):
    """When figures were taken down."""

    BEGUN = "begun"
    CLOSED = "closed"


class RecallFigure(AppendOnly):
    """Where all of an item at risk was when the case was begun or closed; base units."""

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="figures")
    moment = models.CharField(max_length=6, choices=RecallMoment.choices)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="recall_figures")
    received_base = models.BigIntegerField(default=0)
    made_base = models.BigIntegerField(default=0)
    parted_base = models.BigIntegerField(
        default=0, help_text="Split off lots that are not at risk."
    )
    used_base = models.BigIntegerField(default=0)
    disposed_base = models.BigIntegerField(default=0)
    sent_back_base = models.BigIntegerField(default=0, help_text="To suppliers.")
    shipped_base = models.BigIntegerField(default=0)
    returned_base = models.BigIntegerField(default=0, help_text="By customers.")
    unexplained_base = models.BigIntegerField(
        default=0,
        help_text="Not found by counts and adjustments; below zero where more was found.",
    )
    free_base = models.BigIntegerField(default=0, help_text="On hand, released.")
    stopped_base = models.BigIntegerField(
        default=0, help_text="On hand, held, rejected or quarantined."
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["recall", "moment", "item"], name="recall_figure_once"),
            models.CheckConstraint(
                condition=Q(
                    free_base=F("received_base")
                    + F("made_base")
                    + F("parted_base")
                    - F("used_base")
                    - F("disposed_base")
                    - F("sent_back_base")
                    - F("shipped_base")
                    + F("returned_base")
                    - F("unexplained_base")
                    - F("stopped_base")
                ),
                name="recall_figure_adds_up",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item_id} in {self.recall_id}, {self.moment}"
