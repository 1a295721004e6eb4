"""What a door takes that looks at some days up to one: by default up to today."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.utils import timezone
from rest_framework import serializers

from shopfloor.days import shop_day
from shopfloor.fields import DayField


def last_days(days: int) -> type[serializers.Serializer[Any]]:
    """A shape with `first_on` and `last_on`, so many days apart if the first is not given."""

    class LastDaysSerializer(serializers.Serializer[Any]):
        first_on = DayField(
            required=False, help_text=f"First day; {days} days before the last, if not given."
        )
        last_on = DayField(required=False, help_text="Last day; today, if not given.")

        def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
            """The days in order."""
            last_on = attrs.setdefault("last_on", shop_day(timezone.now()))
            first_on = attrs.setdefault("first_on", last_on - timedelta(days=days))
            if first_on > last_on:
                raise serializers.ValidationError(
                    {"first_on": f"The first day, {first_on}, is after the last, {last_on}."}
                )
            return attrs

    return LastDaysSerializer
