"""Serializer field of items: an amount in the item's own unit."""

from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from inventory.catalog.selectors import shown_amount
from shopfloor.fields import Amount, AmountSerializer


def shown(amount: Amount) -> dict[str, str]:
    """An amount as the API writes it."""
    return {"amount": f"{amount.amount:f}", "unit": amount.unit}


@extend_schema_field(AmountSerializer)
class ShownAmountField(serializers.Field[Any, Any, dict[str, str], Any]):
    """A row's amount in the unit people see of its item.

    Attributes:
        qty_base: Takes the base units out of the row.
        item: Takes the item out of the row, loaded.
    """

    def __init__(
        self,
        qty_base: Callable[[Any], int],
        *,
        item: Callable[[Any], Any] = attrgetter("item"),
        **kwargs: Any,
    ) -> None:
        self.qty_base = qty_base
        self.item = item
        super().__init__(source="*", read_only=True, **kwargs)

    def to_representation(self, value: Any) -> dict[str, str]:
        """The amount, exact."""
        return shown(shown_amount(self.item(value), self.qty_base(value)))
