"""What can stand in the way of a change to a lot."""

from __future__ import annotations

from shopfloor.errors import ConflictError, InvalidInputError


class LotShortError(ConflictError):
    """A lot holds less than is wanted of it."""

    code = "lot_short"


class LotHeldError(ConflictError):
    """The lot is held; nobody overrides a hold."""

    code = "lot_held"


class LotQuarantinedError(ConflictError):
    """The lot waits for its test."""

    code = "lot_quarantined"


class LotRejectedError(ConflictError):
    """The lot was rejected."""

    code = "lot_rejected"


class LotExpiredError(ConflictError):
    """The lot's expiry had passed at the time of use; a lead may override with a reason."""

    code = "lot_expired"


class LotOverOpenedError(ConflictError):
    """The container had been open longer than it may; a lead may override with a reason."""

    code = "lot_over_opened"


class LotNotThereYetError(ConflictError):
    """The lot came in after the time of the posting."""

    code = "lot_not_there_yet"


class LotCountedSinceError(ConflictError):
    """Somebody counted the lot since, so the count already holds the truth."""

    code = "lot_counted_since"


class BalanceBelowZeroError(ConflictError):
    """A backdated posting would leave the lot below zero at some time since."""

    code = "balance_below_zero"


class BooksClosedError(ConflictError):
    """The books are closed through that day."""

    code = "books_closed"


class NotReversibleError(ConflictError):
    """Something stands in the way of undoing a posting: the facts name it."""

    code = "not_reversible"


class WrongDispositionError(ConflictError):
    """The lot is not in a state from which this change can be made."""

    code = "wrong_disposition"


class HoldEndedError(ConflictError):
    """The hold was released already."""

    code = "hold_ended"


class TooEarlyError(InvalidInputError):
    """The time given is before what it undoes."""

    code = "too_early"


class NothingToDoError(InvalidInputError):
    """The request would change nothing."""

    code = "nothing_to_do"


class LotOpenedBeforeError(ConflictError):
    """The container is open already."""

    code = "lot_opened_before"


class LotShippedError(ConflictError):
    """The lot left with its box, which is not here to be filled again."""

    code = "lot_shipped"


class CountChangedError(ConflictError):
    """The lot changed between the counting and its posting."""

    code = "count_changed"
