"""Who did something, when it happened and when it was written down."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shopfloor.errors import InvalidInputError
from shopfloor.models import User


class InFutureError(InvalidInputError):
    """A business time that has not come yet."""

    code = "time_in_future"


class ReasonMissingError(InvalidInputError):
    """The event needs a reason and has none."""

    code = "reason_missing"


@dataclass(frozen=True, slots=True)
class Stamp:
    """The who, when and why that every recorded event carries.

    Attributes:
        by: Who recorded it.
        at: Business time, aware: when it happened; never after `now`.
        now: Recorded time, aware, read from the clock by the door.
        reason: Why, in the person's words; at most 300 characters.

    Raises:
        InFutureError: `at` is after `now`.
    """

    by: User
    at: datetime
    now: datetime
    reason: str = ""

    def __post_init__(self) -> None:
        if self.at > self.now:
            raise InFutureError(
                "The time lies in the future. Give the time it happened, or none for now.",
                at=self.at.isoformat(),
                now=self.now.isoformat(),
            )

    def refuse_no_reason(self) -> None:
        """Refuse where the event is one that must say why.

        Raises:
            ReasonMissingError: the reason is empty.
        """
        if not self.reason.strip():
            raise ReasonMissingError(
                "Say why: this needs a reason.", fields={"reason": ["Say why."]}
            )
