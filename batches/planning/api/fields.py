"""Fields that planning asks by."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from rest_framework import serializers

from shopfloor.fields import NumberField


class BetweenField(NumberField):
    """A number between two others."""

    def __init__(self, low: str, high: str, **kwargs: Any) -> None:
        self.low, self.high = low, high
        super().__init__(**kwargs)

    def parse(self, text: str) -> Decimal:
        """The number.

        Raises:
            ValidationError: it lies outside.
        """
        number = super().parse(text)
        if not Decimal(self.low) <= number <= Decimal(self.high):
            raise serializers.ValidationError(f"From {self.low} to {self.high}.")
        return number
