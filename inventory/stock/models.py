"""The ledger: lots, the postings that change them, and what happened to a lot besides amounts.

A lot's `on_hand_base` and `value_micro` are caches of its movements and change only in `steps.py`,
in the transaction
that adds the movements. Everything else that a lot "is" (disposition, place, expiry, opened) is a
cache of its events.
"""

from __future__ import annotations

from typing import Final

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from inventory.catalog.models import Item, Place, Supplier
from shopfloor.append_only import AppendOnly
from shopfloor.codes.alphabet import encode

LOT_CODE_LENGTH = 60  # a lot split again and again: PARENT.1.2.3


class PostingKind(models.TextChoices):
    """What kind of business event changed amounts."""

    RECEIVED = "received"
    MADE = "made"
    MIXED = "mixed"
    SPLIT = "split"
    MOVED = "moved"
    COUNTED = "counted"
    DISPOSED = "disposed"
    RETURNED = "returned"
    SHIPPED = "shipped"
    ADJUSTED = "adjusted"
    REVERSED = "reversed"


# In a posting of one of these kinds, every lot taken flows into every lot made.
FLOWING_KINDS = (PostingKind.MADE, PostingKind.MIXED, PostingKind.SPLIT, PostingKind.MOVED)


OPENING: Final = "opening"
"""The kind of document behind lots that were there when the books began."""


class OutsideKind(models.TextChoices):
    """Where a posting's value came from or went to, when that is outside our shelves."""

    NONE = "", "nothing outside"
    PURCHASE = "purchase"
    COST_OF_GOODS = "cost_of_goods"
    LOSS = "loss"
    COUNT_DIFFERENCE = "count_difference"
    ADJUSTMENT = "adjustment"


class Disposition(models.TextChoices):
    """Whether a lot may be used."""

    QUARANTINED = "quarantined"
    RELEASED = "released"
    HELD = "held"
    REJECTED = "rejected"


class Grade(models.TextChoices):
    """How good the pieces of a lot are."""

    FIRST = "first"
    SECOND = "second"
    SAMPLE = "sample"


class EventKind(models.TextChoices):
    """What happened to a lot besides a change of amount or value."""

    DISPOSITION = "disposition"
    PLACE = "place"
    EXPIRY = "expiry"
    OPENED = "opened"
    EXPIRY_OVERRIDDEN = "expiry_overridden"


class Lot(models.Model):
    """An amount of one item with one history at one place."""

    code = models.CharField(max_length=LOT_CODE_LENGTH, unique=True)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="lots")
    parent = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="children"
    )
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="lots")
    owner = models.CharField(
        max_length=120, blank=True, help_text="Empty: ours. Else whose it is; then it has no value."
    )
    grade = models.CharField(max_length=6, choices=Grade.choices, default=Grade.FIRST)
    disposition = models.CharField(
        max_length=12, choices=Disposition.choices, default=Disposition.RELEASED
    )
    supplier = models.ForeignKey(
        Supplier, null=True, blank=True, on_delete=models.PROTECT, related_name="lots"
    )
    supplier_lot_code = models.CharField(max_length=60, blank=True)
    born_at = models.DateTimeField(help_text="Business time it came in or was made.")
    expires_at = models.DateTimeField(null=True, blank=True)
    opened_at = models.DateTimeField(null=True, blank=True)
    discard_at = models.DateTimeField(
        null=True, blank=True, help_text="End of its life once opened."
    )
    on_hand_base = models.BigIntegerField(
        default=0, help_text="Base units of the item; cache of its movements."
    )
    value_micro = models.BigIntegerField(
        default=0, help_text="Millionths of the currency; cache of its movements."
    )
    touched_at = models.DateTimeField(
        help_text="Latest business time of anything recorded about this lot."
    )
    splits = models.PositiveIntegerField(
        default=0, help_text="Parts taken from it so far; numbers the next one."
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(on_hand_base__gte=0), name="lot_never_below_zero"),
            models.CheckConstraint(
                condition=Q(value_micro__gte=0), name="lot_value_never_below_zero"
            ),
            models.CheckConstraint(
                condition=Q(on_hand_base__gt=0) | Q(value_micro=0),
                name="lot_emptied_is_worth_nothing",
            ),
            models.CheckConstraint(
                condition=Q(owner="") | Q(value_micro=0), name="lot_of_others_has_no_value"
            ),
        ]
        indexes = [
            models.Index(
                fields=["item", "id"], condition=Q(on_hand_base__gt=0), name="lot_on_hand_by_item"
            ),
            models.Index(fields=["id"], condition=Q(on_hand_base__gt=0), name="lot_on_hand"),
            models.Index(fields=["place", "id"], name="lot_by_place"),
        ]

    def __str__(self) -> str:
        return self.code


class Posting(AppendOnly):
    """One business event that changed amounts or values."""

    kind = models.CharField(max_length=10, choices=PostingKind.choices)
    at = models.DateTimeField(help_text="Business time: when it happened.")
    recorded_at = models.DateTimeField(help_text="When it was written down here.")
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="postings"
    )
    reason = models.CharField(max_length=300, blank=True)
    outside_kind = models.CharField(
        max_length=16, choices=OutsideKind.choices, blank=True, default=""
    )
    outside_micro = models.BigIntegerField(
        default=0,
        help_text="Value that came from outside (positive) or went there (negative); its "
        "movements add up to it.",
    )
    document_kind = models.CharField(max_length=20, blank=True)
    document_code = models.CharField(max_length=60, blank=True)
    reverses = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversed_by"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(outside_kind="") | Q(outside_micro=0),
                name="posting_outside_value_has_a_kind",
            ),
            models.CheckConstraint(
                condition=Q(recorded_at__gte=F("at")), name="posting_not_in_the_future"
            ),
            models.CheckConstraint(
                condition=Q(kind="reversed", reverses__isnull=False)
                | (~Q(kind="reversed") & Q(reverses__isnull=True)),
                name="posting_reversal_names_its_posting",
            ),
        ]
        indexes = [
            models.Index(fields=["document_code", "document_kind"], name="posting_by_document"),
            models.Index(fields=["at"], name="posting_by_time"),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def code(self) -> str:
        """Its public code, made of its number."""
        return encode(self.pk, "P")


class Movement(AppendOnly):
    """One signed change to one lot."""

    posting = models.ForeignKey(
        Posting, on_delete=models.PROTECT, related_name="movements", db_index=False
    )
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="movements", db_index=False)
    qty_base = models.BigIntegerField(
        help_text="Base units of the lot's item; positive in, negative out."
    )
    value_micro = models.BigIntegerField(
        help_text="Millionths of the currency; positive in, negative out."
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(qty_base=0, value_micro=0), name="movement_changes_something"
            ),
            models.CheckConstraint(
                condition=Q(qty_base=0)
                | Q(qty_base__gt=0, value_micro__gte=0)
                | Q(qty_base__lt=0, value_micro__lte=0),
                name="movement_value_goes_with_amount",
            ),
        ]
        # Both ways of the genealogy are answered from an index alone, and so are the sums of
        # every lot and posting that `verify` proves.
        indexes = [
            models.Index(
                fields=["lot", "posting", "qty_base", "value_micro"], name="movement_by_lot"
            ),
            models.Index(
                fields=["posting", "lot", "qty_base", "value_micro"], name="movement_by_posting"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.posting_id}: {self.qty_base} of {self.lot_id}"


class LotEvent(AppendOnly):
    """Something that happened to a lot besides a change of amount: what it was, what it became."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="events")
    kind = models.CharField(max_length=20, choices=EventKind.choices)
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="lot_events"
    )
    before = models.CharField(max_length=60, blank=True)
    after = models.CharField(max_length=60, blank=True)
    reason = models.CharField(max_length=300, blank=True)
    posting = models.ForeignKey(
        Posting, null=True, blank=True, on_delete=models.PROTECT, related_name="lot_events"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(recorded_at__gte=F("at")), name="lot_event_not_in_the_future"
            )
        ]

    def __str__(self) -> str:
        return f"{self.lot_id} {self.kind}: {self.before} to {self.after}"


class Hold(AppendOnly):
    """A stop on one lot and on everything it flowed into that was still ours."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="holds")
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="holds")
    reason = models.CharField(max_length=300)

    class Meta:
        ordering = ["id"]
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="hold_says_why")]

    def __str__(self) -> str:
        return self.code

    @property
    def code(self) -> str:
        """Its public code, made of its number."""
        return encode(self.pk, "H")


class HeldLot(AppendOnly):
    """A lot that a hold stopped, and what its disposition was before."""

    hold = models.ForeignKey(Hold, on_delete=models.PROTECT, related_name="held_lots")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="held_by")
    before = models.CharField(max_length=12, choices=Disposition.choices)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["hold", "lot"], name="held_lot_once_per_hold")
        ]

    def __str__(self) -> str:
        return f"{self.lot_id} in {self.hold_id}"


class HoldRelease(AppendOnly):
    """The end of a hold: who let it go and why."""

    hold = models.OneToOneField(Hold, on_delete=models.PROTECT, related_name="release")
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="hold_releases"
    )
    reason = models.CharField(max_length=300)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="hold_release_says_why")
        ]

    def __str__(self) -> str:
        return f"release of {self.hold_id}"


class Count(AppendOnly):
    """What somebody found on the shelf, lot by lot."""

    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="counts"
    )
    reason = models.CharField(max_length=300)
    posting = models.OneToOneField(
        Posting, null=True, blank=True, on_delete=models.PROTECT, related_name="count"
    )

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.code

    @property
    def code(self) -> str:
        """Its public code, made of its number."""
        return encode(self.pk, "C")


class CountLine(AppendOnly):
    """What was found of one lot, and what the books said.

    The count's posting holds the difference.
    """

    count = models.ForeignKey(Count, on_delete=models.PROTECT, related_name="lines")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="count_lines")
    expected_base = models.BigIntegerField()
    found_base = models.BigIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["count", "lot"], name="count_line_once_per_lot"),
            models.CheckConstraint(
                condition=Q(found_base__gte=0), name="count_line_found_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.count_id}: {self.found_base} of {self.lot_id}"


class BooksClosing(AppendOnly):
    """The books closed through a day: nothing is posted into it any more."""

    through = models.DateField(help_text="Last closed day, the shop's day.")
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="books_closings"
    )
    reason = models.CharField(max_length=300)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"books closed through {self.through}"
