"""What can stand in the way of a recall."""

from __future__ import annotations

from shopfloor.errors import ConflictError, InvalidInputError


class NothingAtRiskError(InvalidInputError):
    """Nothing was named, or nothing was made with it in those days."""

    code = "nothing_at_risk"


class RecallClosedError(ConflictError):
    """The case is closed: nothing is noted in it any more."""

    code = "recall_closed"


class DestroyedTooManyError(InvalidInputError):
    """More are said to be destroyed than are with the customer."""

    code = "destroyed_too_many"
