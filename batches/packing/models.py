"""Customers, what they ordered, boxes and what left in them, and what was wrong with it.

A box's contents are the lots at its place.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from batches.runs.models import ScrapReason
from inventory.catalog.models import CODE_LENGTH, Item, LureModel, Place
from inventory.stock.models import Lot, Posting
from shopfloor.append_only import AppendOnly
from shopfloor.codes.alphabet import encode


class Customer(models.Model):
    """Who buys from us, or takes our lures on consignment."""

    code = models.CharField(max_length=CODE_LENGTH, unique=True)
    name = models.CharField(max_length=120)
    address = models.CharField(max_length=300, blank=True)
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class CustomerOrderState(models.TextChoices):
    """Where a customer's order stands."""

    OPEN = "open"
    CLOSED = "closed"
    CANCELLED = "cancelled"


class CustomerOrder(models.Model):
    """What a customer ordered, with the day we promised."""

    code = models.CharField(max_length=CODE_LENGTH, unique=True)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="orders")
    ordered_on = models.DateField()
    state = models.CharField(
        max_length=9, choices=CustomerOrderState.choices, default=CustomerOrderState.OPEN
    )
    note = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="customer_orders"
    )
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.code


class CustomerOrderLine(models.Model):
    """One lure of a customer's order."""

    order = models.ForeignKey(CustomerOrder, on_delete=models.PROTECT, related_name="lines")
    position = models.PositiveIntegerField()
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="customer_order_lines")
    qty_base = models.BigIntegerField()
    price_micro = models.BigIntegerField(help_text="Millionths of the currency for one.")
    promised_on = models.DateField(null=True, blank=True)
    is_closed = models.BooleanField(default=False)

    class Meta:
        ordering = ["order", "position"]
        constraints = [
            models.UniqueConstraint(
                fields=["order", "position"], name="customer_order_line_position_once"
            ),
            models.CheckConstraint(
                condition=Q(qty_base__gt=0), name="customer_order_line_positive"
            ),
            models.CheckConstraint(
                condition=Q(price_micro__gte=0), name="customer_order_line_price_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order} line {self.position}"


class BoxState(models.TextChoices):
    """Whether a box can still be packed."""

    OPEN = "open"
    CLOSED = "closed"
    SHIPPED = "shipped"


class Box(models.Model):
    """A box, carton or pallet; it is a place, and may stand in another box."""

    code = models.CharField(max_length=CODE_LENGTH, unique=True)
    place = models.OneToOneField(Place, on_delete=models.PROTECT, related_name="box")
    parent = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="boxes"
    )
    state = models.CharField(max_length=7, choices=BoxState.choices, default=BoxState.OPEN)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="boxes")
    packed_at = models.DateTimeField()
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "boxes"

    def __str__(self) -> str:
        return self.code


class BoxSscc(AppendOnly):
    """The SSCC of a box, allotted once; its count in the prefix is the number of this row.

    So none is ever given twice, whatever becomes of the box, and whoever asks at the same time.
    """

    box = models.OneToOneField(Box, on_delete=models.PROTECT, related_name="sscc_row")
    sscc = models.CharField(max_length=18, unique=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="ssccs_allotted"
    )
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.sscc


class Purpose(models.TextChoices):
    """Why pieces left."""

    SALE = "sale"
    SAMPLE = "sample"
    REPLACEMENT = "replacement"
    FREE = "free"


class Shipment(AppendOnly):
    """What left to one customer in one go; its posting holds amounts and cost."""

    posting = models.OneToOneField(
        Posting, primary_key=True, on_delete=models.PROTECT, related_name="shipment"
    )
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="shipments")
    order = models.ForeignKey(
        CustomerOrder, null=True, blank=True, on_delete=models.PROTECT, related_name="shipments"
    )
    carrier = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.code

    @property
    def code(self) -> str:
        """Its public code, made of its posting's number."""
        return encode(self.pk, "S")


class ShipmentLine(AppendOnly):
    """One whole lot that left, from which box, at what price and why."""

    shipment = models.ForeignKey(Shipment, on_delete=models.PROTECT, related_name="lines")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="shipment_lines")
    box = models.ForeignKey(
        Box, null=True, blank=True, on_delete=models.PROTECT, related_name="shipment_lines"
    )
    order_line = models.ForeignKey(
        CustomerOrderLine,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="shipment_lines",
    )
    qty_base = models.BigIntegerField()
    price_micro = models.BigIntegerField(help_text="Millionths of the currency for one.")
    purpose = models.CharField(max_length=11, choices=Purpose.choices, default=Purpose.SALE)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(qty_base__gt=0), name="shipment_line_positive"),
            models.CheckConstraint(
                condition=Q(price_micro__gte=0), name="shipment_line_price_not_negative"
            ),
            models.UniqueConstraint(fields=["shipment", "lot"], name="shipment_line_once_per_lot"),
        ]

    def __str__(self) -> str:
        return f"{self.shipment_id}: {self.qty_base} of {self.lot_id}"


NOTE_LENGTH = 1000


class Complaint(AppendOnly):
    """One defect that somebody found on pieces that left; a wrong one is answered by another.

    It names a box, a lot, or only what it is (item or model) and between which days it was bought.
    """

    defect = models.ForeignKey(ScrapReason, on_delete=models.PROTECT, related_name="complaints")
    pieces = models.PositiveIntegerField()
    told_on = models.DateField()
    customer = models.ForeignKey(
        Customer,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="complaints",
        help_text="Empty: somebody who did not buy from us.",
    )
    box = models.ForeignKey(
        Box, null=True, blank=True, on_delete=models.PROTECT, related_name="complaints"
    )
    lot = models.ForeignKey(
        Lot, null=True, blank=True, on_delete=models.PROTECT, related_name="complaints"
    )
    item = models.ForeignKey(
        Item, null=True, blank=True, on_delete=models.PROTECT, related_name="complaints"
    )
    model = models.ForeignKey(
        LureModel, null=True, blank=True, on_delete=models.PROTECT, related_name="complaints"
    )
    bought_first_on = models.DateField(null=True, blank=True)
    bought_last_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="complaints"
    )
    recorded_at = models.DateTimeField()
    replaces = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(pieces__gt=0), name="complaint_of_some_pieces"),
            models.CheckConstraint(
                condition=Q(box__isnull=False, lot=None, item=None, model=None)
                | Q(box=None, lot__isnull=False, item=None, model=None)
                | Q(box=None, lot=None, item__isnull=False, model=None)
                | Q(box=None, lot=None, item=None, model__isnull=False),
                name="complaint_names_one_thing",
            ),
            models.CheckConstraint(
                condition=(
                    (Q(box__isnull=False) | Q(lot__isnull=False))
                    & Q(bought_first_on=None, bought_last_on=None)
                )
                | Q(
                    box=None,
                    lot=None,
                    bought_first_on__isnull=False,
                    bought_last_on__isnull=False,
                    bought_first_on__lte=F("bought_last_on"),
                    bought_last_on__lte=F("told_on"),
                ),
                name="complaint_days_in_order",
            ),
        ]
        indexes = [models.Index(fields=["told_on"], name="complaint_by_day")]

    def __str__(self) -> str:
        return self.code

    @property
    def code(self) -> str:
        """Its public code, made of its number."""
        return encode(self.pk, "W")


class CustomerReturn(AppendOnly):
    """Pieces that came back from a shipment, into the lots they left, quarantined."""

    posting = models.OneToOneField(
        Posting, primary_key=True, on_delete=models.PROTECT, related_name="customer_return"
    )
    shipment = models.ForeignKey(Shipment, on_delete=models.PROTECT, related_name="returns")
    complaint = models.ForeignKey(
        Complaint,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="returns",
        help_text="That the pieces came back for.",
    )

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"return of {self.shipment_id}"
