"""Alerts: that failures became more frequent, and how a person ended each."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from batches.quality.models import CheckDefinition
from batches.runs.models import ScrapReason
from shopfloor.append_only import AppendOnly
from shopfloor.codes.alphabet import Prefix, encode


class Alert(AppendOnly):
    """Failures became more frequent; the program saw it by itself."""

    defect = models.ForeignKey(ScrapReason, on_delete=models.PROTECT, related_name="alerts")
    definition = models.ForeignKey(
        CheckDefinition,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="alerts",
        help_text="The check that saw it; empty: complaints.",
    )
    opened_at = models.DateTimeField()
    since_at = models.DateTimeField(
        help_text="When that was recorded with which it began most likely."
    )
    tested = models.PositiveIntegerField(help_text="Pieces since; for complaints, that left.")
    failed = models.PositiveIntegerField(help_text="Pieces or flaws since; or complaints.")
    tested_before = models.PositiveIntegerField()
    failed_before = models.PositiveIntegerField()
    seen = models.TextField(help_text="In words.")
    cause = models.TextField(blank=True, help_text="What failures have in common, in words.")
    exposures = models.JSONField(default=list, help_text="Likely causes, by kind and name.")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(failed__gt=0), name="alert_of_some_failures"),
            models.CheckConstraint(
                condition=Q(opened_at__gte=models.F("since_at")), name="alert_after_it_began"
            ),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def code(self) -> str:
        """Its public code, made of its number."""
        return encode(self.pk, Prefix.ALERT)


class AlertClosing(AppendOnly):
    """The end of an alert: who closed it and why."""

    alert = models.OneToOneField(Alert, on_delete=models.PROTECT, related_name="closing")
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="alert_closings"
    )
    reason = models.CharField(max_length=300)
    is_usual = models.BooleanField(
        help_text="What was seen counts as usual from now on; else it is left out."
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="alert_closing_says_why")
        ]

    def __str__(self) -> str:
        return f"closing of {self.alert_id}"
