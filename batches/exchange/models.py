"""Imports that were posted, what they were read of, and what headings of the shop's own mean."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from shopfloor.append_only import AppendOnly
from shopfloor.models import User

__all__ = ["Import", "ImportedSheet", "SheetHeading"]

FILE_LENGTH_MAX = 300


class Import(AppendOnly):
    """One import: all of it was posted, in one event."""

    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"import {self.pk}"


class ImportedSheet(AppendOnly):
    """One sheet of an import: where its rows came from, and how they were read."""

    source = models.ForeignKey(Import, on_delete=models.PROTECT, related_name="sheets")
    sheet = models.CharField(max_length=40)
    file = models.CharField(
        max_length=FILE_LENGTH_MAX, help_text="Its name, with that of the tab if any."
    )
    size_bytes = models.PositiveBigIntegerField(help_text="Of the whole file.")
    sha256 = models.CharField(max_length=64, help_text="Of the whole file, hex.")
    rows = models.PositiveIntegerField()
    rows_sha256 = models.CharField(
        max_length=64, help_text="Of what the rows say, however they were written; hex."
    )
    how = models.CharField(max_length=300, help_text="How it was read, in words.")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["rows_sha256"], condition=Q(rows__gt=0), name="rows_are_imported_once"
            )
        ]
        indexes = [models.Index(fields=["sha256"], name="imported_sheet_by_file")]

    def __str__(self) -> str:
        return self.file


class SheetHeading(models.Model):
    """What a heading of the shop's own stands for in one of our sheets."""

    sheet = models.CharField(max_length=40)
    heading = models.CharField(max_length=120, help_text="Lower case, words joined by underscores.")
    column = models.CharField(max_length=60, blank=True, help_text="Empty: the column is left out.")
    kept_at = models.DateTimeField()
    kept_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["sheet", "heading"], name="sheet_heading_once")
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def code(self) -> str:
        """What the audit knows it by."""
        return f"{self.sheet}:{self.heading}"[:80]
