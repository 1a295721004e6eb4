"""The shop's own stock, and the record of printing: who had what printed, when, on what."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from batches.labels.rules.stock import MARGIN_UM
from inventory.catalog.models import CODE_LENGTH
from shopfloor.append_only import AppendOnly
from shopfloor.codes.alphabet import Prefix, encode
from shopfloor.models import User

STOCK_LENGTH = 40


class LabelStock(models.Model):
    """Labels or sheets that the shop measured itself; lengths as in `rules.stock.Stock`."""

    code = models.CharField(max_length=CODE_LENGTH, unique=True)
    page_width_um = models.IntegerField()
    page_height_um = models.IntegerField()
    label_width_um = models.IntegerField()
    label_height_um = models.IntegerField()
    columns = models.PositiveSmallIntegerField(default=1)
    rows = models.PositiveSmallIntegerField(default=1)
    left_um = models.IntegerField(default=0)
    top_um = models.IntegerField(default=0)
    pitch_x_um = models.IntegerField(default=0)
    pitch_y_um = models.IntegerField(default=0)
    margin_um = models.IntegerField(default=MARGIN_UM)
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.code


class Printing(AppendOnly):
    """Papers of one kind that somebody had printed in one go, and by which printer on what."""

    kind = models.CharField(max_length=20, help_text="The kind of paper: lots, boxes ...")
    stock = models.CharField(max_length=STOCK_LENGTH)
    dpi = models.PositiveSmallIntegerField()
    start = models.PositiveSmallIntegerField(default=1)
    nudge_x_um = models.IntegerField(default=0)
    nudge_y_um = models.IntegerField(default=0)
    has_cut_marks = models.BooleanField(default=False)
    copies = models.PositiveSmallIntegerField(help_text="Of each paper.")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="printings")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(copies__gt=0), name="printing_prints_something")
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def code(self) -> str:
        """Its public code."""
        return encode(self.pk, Prefix.PRINTING)


class PrintedPaper(AppendOnly):
    """One paper of a printing.

    `number` is 1 when it is the thing's first paper of that kind, else it is a reprint.
    """

    printing = models.ForeignKey(Printing, on_delete=models.PROTECT, related_name="papers")
    kind = models.CharField(max_length=20)
    code = models.CharField(max_length=CODE_LENGTH, help_text="Of what it is the paper of.")
    number = models.PositiveIntegerField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "code", "number"], name="printed_papers_are_counted"
            ),
            models.UniqueConstraint(fields=["printing", "code"], name="printed_paper_once"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.code}"
