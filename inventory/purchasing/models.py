"""What we ordered from suppliers and what came of it.

A receipt's amounts and values are its posting's.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.catalog.models import CODE_LENGTH, Item, Supplier
from inventory.stock.models import Lot, Posting
from shopfloor.append_only import AppendOnly
from shopfloor.codes.alphabet import encode


class OrderState(models.TextChoices):
    """Where a supplier order stands."""

    OPEN = "open"
    CLOSED = "closed"
    CANCELLED = "cancelled"


class SupplierOrder(models.Model):
    """What we asked one supplier for on one day."""

    code = models.CharField(max_length=CODE_LENGTH, unique=True)
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="orders")
    ordered_on = models.DateField()
    state = models.CharField(max_length=9, choices=OrderState.choices, default=OrderState.OPEN)
    note = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="supplier_orders"
    )
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.code


class SupplierOrderLine(models.Model):
    """One item of a supplier order, in packs."""

    order = models.ForeignKey(SupplierOrder, on_delete=models.PROTECT, related_name="lines")
    position = models.PositiveIntegerField()
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="order_lines")
    packs = models.PositiveIntegerField()
    pack_base = models.BigIntegerField(help_text="Base units of the item in one pack.")
    pack_price_micro = models.BigIntegerField(help_text="Millionths of the currency for one pack.")
    promised_on = models.DateField(null=True, blank=True)
    is_closed = models.BooleanField(default=False, help_text="Nothing more is expected on it.")

    class Meta:
        ordering = ["order", "position"]
        constraints = [
            models.UniqueConstraint(fields=["order", "position"], name="order_line_position_once"),
            models.CheckConstraint(condition=Q(packs__gt=0), name="order_line_packs_positive"),
            models.CheckConstraint(condition=Q(pack_base__gt=0), name="order_line_pack_positive"),
            models.CheckConstraint(
                condition=Q(pack_price_micro__gte=0), name="order_line_price_not_negative"
            ),
        ]
        indexes = [
            models.Index(
                fields=["item"], condition=Q(is_closed=False), name="order_line_open_by_item"
            )
        ]

    def __str__(self) -> str:
        return f"{self.order} line {self.position}"


class Receipt(AppendOnly):
    """One delivery; its posting holds the amounts and the values."""

    posting = models.OneToOneField(
        Posting, primary_key=True, on_delete=models.PROTECT, related_name="receipt"
    )
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="receipts")
    order = models.ForeignKey(
        SupplierOrder, null=True, blank=True, on_delete=models.PROTECT, related_name="receipts"
    )
    delivery_note = models.CharField(max_length=60, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.code

    @property
    def code(self) -> str:
        """Its public code, made of its posting's number."""
        return encode(self.pk, "R")


class ReceiptLine(AppendOnly):
    """One lot of a delivery, and the order line that it answers."""

    receipt = models.ForeignKey(Receipt, on_delete=models.PROTECT, related_name="lines")
    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="receipt_line")
    order_line = models.ForeignKey(
        SupplierOrderLine,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="receipt_lines",
    )
    qty_base = models.BigIntegerField(help_text="Base units of the lot's item that came.")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(qty_base__gt=0), name="receipt_line_positive")
        ]

    def __str__(self) -> str:
        return f"{self.receipt_id}: {self.lot_id}"
