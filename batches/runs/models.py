"""Batches and the entries recorded for them.

What an entry took and made is its posting's; this adds the bench's facts.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from batches.bills.models import BillRevision, Stage
from inventory.catalog.models import CODE_LENGTH, Equipment, Item
from inventory.stock.models import Grade, Posting
from shopfloor.append_only import AppendOnly
from shopfloor.codes.alphabet import encode


class BatchState(models.TextChoices):
    """Where a batch stands; planned is our own, the others after IEC 61512."""

    PLANNED = "planned"
    IDLE = "idle"
    RUNNING = "running"
    HELD = "held"
    COMPLETE = "complete"
    ABORTED = "aborted"


class ScrapReason(models.Model):
    """Why a piece did not become a good one."""

    code = models.CharField(max_length=CODE_LENGTH, unique=True)
    name = models.CharField(max_length=120)
    stage = models.ForeignKey(
        Stage,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="scrap_reasons",
        help_text="Empty: possible at every stage.",
    )
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class Batch(models.Model):
    """One production run of one item at one stage."""

    code = models.CharField(max_length=CODE_LENGTH, unique=True)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="batches")
    stage = models.ForeignKey(Stage, on_delete=models.PROTECT, related_name="batches")
    revision = models.ForeignKey(
        BillRevision,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="batches",
        help_text="The bill it is made to; empty for rework, which takes exactly the lots named.",
    )
    state = models.CharField(max_length=8, choices=BatchState.choices, default=BatchState.PLANNED)
    planned_base = models.BigIntegerField(
        help_text="Good pieces wanted (base units for a mixture)."
    )
    planned_on = models.DateField(
        null=True, blank=True, help_text="The shop's day it is meant to run."
    )
    note = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="batches"
    )
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "batches"
        constraints = [
            models.CheckConstraint(condition=Q(planned_base__gt=0), name="batch_plans_something")
        ]
        indexes = [models.Index(fields=["state", "stage"], name="batch_by_state")]

    def __str__(self) -> str:
        return self.code


class BatchEvent(AppendOnly):
    """A change of a batch's state."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="events")
    before = models.CharField(max_length=8, choices=BatchState.choices)
    after = models.CharField(max_length=8, choices=BatchState.choices)
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="batch_events"
    )
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.batch_id}: {self.before} to {self.after}"


class Entry(AppendOnly):
    """One recording at the bench for a batch."""

    posting = models.OneToOneField(
        Posting, primary_key=True, on_delete=models.PROTECT, related_name="entry"
    )
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="entries")
    done_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="entries_done"
    )
    good_base = models.BigIntegerField(
        help_text="Good pieces of all grades (base units for a mixture)."
    )
    scrapped_base = models.BigIntegerField(default=0)
    minutes = models.PositiveIntegerField(null=True, blank=True, help_text="Labor minutes.")

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "entries"
        constraints = [
            models.CheckConstraint(
                condition=Q(good_base__gte=0, scrapped_base__gte=0)
                & (Q(good_base__gt=0) | Q(scrapped_base__gt=0)),
                name="entry_records_something",
            )
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def code(self) -> str:
        """Its public code, made of its posting's number."""
        return encode(self.pk, "E")


class EntryTally(AppendOnly):
    """Pieces of an entry.

    Good of a grade, or scrapped for a reason; by cavity or station where that is known.
    """

    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="tallies")
    grade = models.CharField(
        max_length=6, choices=Grade.choices, blank=True, help_text="Empty for scrap."
    )
    scrap_reason = models.ForeignKey(
        ScrapReason, null=True, blank=True, on_delete=models.PROTECT, related_name="tallies"
    )
    equipment = models.ForeignKey(
        Equipment, null=True, blank=True, on_delete=models.PROTECT, related_name="tallies"
    )
    qty_base = models.BigIntegerField()

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "entry tallies"
        constraints = [
            models.CheckConstraint(condition=Q(qty_base__gt=0), name="tally_counts_something"),
            models.CheckConstraint(
                condition=(Q(grade="") & Q(scrap_reason__isnull=False))
                | (~Q(grade="") & Q(scrap_reason__isnull=True)),
                name="tally_is_good_or_scrap",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.entry_id}: {self.qty_base}"


class EntryFactor(AppendOnly):
    """A circumstance of an entry that could be a cause: equipment used, or a named value."""

    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="factors")
    equipment = models.ForeignKey(
        Equipment, null=True, blank=True, on_delete=models.PROTECT, related_name="factors"
    )
    name = models.CharField(max_length=40, blank=True)
    value = models.CharField(max_length=60, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(equipment__isnull=False, name="")
                | (Q(equipment__isnull=True) & ~Q(name="")),
                name="factor_is_equipment_or_named",
            )
        ]

    def __str__(self) -> str:
        return f"{self.entry_id}: {self.name or self.equipment_id}"
