"""What the doors of this room have in common."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.utils import timezone

from shopfloor.doors import Door
from shopfloor.stamp import Stamp


class StampedDoor(Door):
    """A door whose body may say when it happened and why."""

    def stamp(self, body: Mapping[str, Any]) -> Stamp:
        """Who, when, why; now when the body does not say.

        Raises:
            InFutureError: a time that has not come.
        """
        now = timezone.now()
        at: datetime = body.get("at") or now
        return Stamp(by=self.person, at=at, now=now, reason=body.get("reason", ""))
