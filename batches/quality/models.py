"""What is tested at each stage, and what every test found.

A check is never changed; one that was written down wrongly is answered by one that replaces it.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from batches.bills.models import Stage
from batches.runs.models import Batch, Entry, ScrapReason
from inventory.catalog.models import CODE_LENGTH, Equipment, Item
from inventory.stock.models import Hold, Lot
from shopfloor.append_only import AppendOnly
from shopfloor.codes.alphabet import encode


class CheckKind(models.TextChoices):
    """What a check looks at."""

    PASS_FAIL = "pass_fail", "pieces that pass or fail"
    FLAWS = "flaws", "flaws, any number a piece"
    MEASURED = "measured", "a value a piece, with limits"


class HowMany(models.TextChoices):
    """How many pieces are tested."""

    PLAN = "plan", "by a sampling plan"
    FIXED = "fixed", "the same number of every lot"
    ALL = "all", "every piece"


class Severity(models.TextChoices):
    """How closely lots are looked at by a sampling plan."""

    NORMAL = "normal"
    TIGHTENED = "tightened"
    REDUCED = "reduced"


class CheckDefinition(models.Model):
    """A test that a stage's output goes through."""

    code = models.CharField(max_length=CODE_LENGTH, unique=True)
    name = models.CharField(max_length=120)
    stage = models.ForeignKey(Stage, on_delete=models.PROTECT, related_name="check_definitions")
    item = models.ForeignKey(
        Item,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="check_definitions",
        help_text="Empty: everything the stage makes.",
    )
    defect = models.ForeignKey(
        ScrapReason,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="check_definitions",
        help_text="What a failing piece would be scrapped for.",
    )
    kind = models.CharField(max_length=9, choices=CheckKind.choices)
    unit = models.CharField(max_length=12, blank=True, help_text="Of a measured value.")
    lower = models.DecimalField(
        max_digits=14, decimal_places=5, null=True, blank=True, help_text="Least that passes."
    )
    upper = models.DecimalField(
        max_digits=14, decimal_places=5, null=True, blank=True, help_text="Most that passes."
    )
    how_many = models.CharField(max_length=5, choices=HowMany.choices)
    level = models.CharField(max_length=3, blank=True, help_text="Inspection level of the plan.")
    aql = models.CharField(max_length=5, blank=True, help_text="Quality level of the plan.")
    may_reduce = models.BooleanField(default=False, help_text="Reduced inspection is allowed.")
    fixed_pieces = models.PositiveIntegerField(null=True, blank=True)
    accept_pieces = models.PositiveIntegerField(
        default=0, help_text="Most that may fail, without a plan."
    )
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(lower__isnull=True) | Q(upper__isnull=True) | Q(upper__gt=F("lower")),
                name="check_limits_in_order",
            ),
            models.CheckConstraint(
                condition=(Q(how_many="plan") & ~Q(level="") & ~Q(aql=""))
                | Q(how_many="fixed", fixed_pieces__gt=0)
                | Q(how_many="all"),
                name="check_definition_says_how_many",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class Check(AppendOnly):
    """One test of a lot, or of all that a batch has made."""

    definition = models.ForeignKey(
        CheckDefinition, on_delete=models.PROTECT, related_name="checks", db_index=False
    )
    lot = models.ForeignKey(
        Lot, null=True, blank=True, on_delete=models.PROTECT, related_name="checks"
    )
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="checks")
    entry = models.ForeignKey(
        Entry,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="checks",
        help_text="That made the pieces, where one alone did.",
    )
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="checks"
    )
    reason = models.CharField(max_length=300, blank=True)
    lot_pieces = models.PositiveIntegerField(help_text="Good pieces that were made.")
    tested = models.PositiveIntegerField()
    failed = models.PositiveIntegerField(help_text="Pieces that fail, or flaws.")
    is_passed = models.BooleanField()
    is_first = models.BooleanField(
        help_text="No earlier check of the same: it counts for the plan."
    )
    is_marginal = models.BooleanField(default=False)
    plan_pieces = models.PositiveIntegerField(help_text="As many as were to be tested.")
    accept = models.PositiveIntegerField()
    reject = models.PositiveIntegerField()
    letter = models.CharField(max_length=1, blank=True, help_text="Code letter of the plan.")
    severity = models.CharField(max_length=9, choices=Severity.choices, blank=True)
    replaces = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(tested__gt=0, tested__lte=F("lot_pieces")),
                name="check_tests_some_of_the_lot",
            ),
            models.CheckConstraint(
                condition=Q(recorded_at__gte=F("at")), name="check_not_in_the_future"
            ),
            models.CheckConstraint(
                condition=Q(is_passed=True, failed__lt=F("reject"))
                | Q(is_passed=False, failed__gte=F("reject")),
                name="check_verdict_is_its_plans",
            ),
        ]
        indexes = [
            models.Index(fields=["definition", "at"], name="check_by_time"),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def code(self) -> str:
        """Its public code, made of its number."""
        return encode(self.pk, "K")


class CheckResult(AppendOnly):
    """What a check found: of one piece, or of several alike, by station or cavity where known."""

    check_row = models.ForeignKey(Check, on_delete=models.PROTECT, related_name="results")
    equipment = models.ForeignKey(
        Equipment, null=True, blank=True, on_delete=models.PROTECT, related_name="check_results"
    )
    tested = models.PositiveIntegerField()
    failed = models.PositiveIntegerField(help_text="Pieces that fail, or flaws.")
    value = models.DecimalField(max_digits=14, decimal_places=5, null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(tested__gt=0), name="check_result_tests_something"),
            models.CheckConstraint(
                condition=Q(value__isnull=True) | Q(tested=1, failed__lte=1),
                name="check_result_value_is_of_one_piece",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.check_row_id}: {self.failed} of {self.tested}"


class CheckHold(AppendOnly):
    """A hold that a failed check placed by itself."""

    check_row = models.ForeignKey(Check, on_delete=models.PROTECT, related_name="holds")
    hold = models.OneToOneField(Hold, on_delete=models.PROTECT, related_name="from_check")

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.hold_id} by {self.check_row_id}"
