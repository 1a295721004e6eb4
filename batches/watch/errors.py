"""What can stand in the way of closing an alert."""

from __future__ import annotations

from shopfloor.errors import ConflictError


class AlertClosedError(ConflictError):
    """The alert was closed before."""

    code = "alert_closed"
