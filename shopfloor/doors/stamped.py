"""Doors whose body says when something happened and why."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Final

from django.utils import timezone
from rest_framework import serializers

from shopfloor.doors.door import Door
from shopfloor.fields import AtField
from shopfloor.stamp import Stamp

REASON_LENGTH_MAX: Final = 300


class WhenWhySerializer(serializers.Serializer[Any]):
    """When it happened (now, if left out) and why."""

    at = AtField(required=False)
    reason = serializers.CharField(
        max_length=REASON_LENGTH_MAX, required=False, allow_blank=True, default=""
    )


class StampedDoor(Door):
    """A door whose body may say when and why."""

    def stamp(self, body: Mapping[str, Any]) -> Stamp:
        """Who, when, why; now when the body does not say.

        Raises:
            InFutureError: a time that has not come.
        """
        now = timezone.now()
        at: datetime = body.get("at") or now
        return Stamp(by=self.person, at=at, now=now, reason=body.get("reason", ""))
