"""What a person can put right when no reorder advice can be given."""

from __future__ import annotations

from typing import ClassVar

from inventory.reorder.rules import SERVICE_LEVEL_ABOVE, SERVICE_LEVEL_MAX, Fault
from shopfloor.errors import InvalidInputError


class NoAdviceError(InvalidInputError):
    """No reorder advice can be given on an item; each leaf says what to do.

    Attributes:
        advice: The sentence for the person, whole without the item.
    """

    code = "no_reorder_advice"
    advice: ClassVar[str]

    def __init__(self, **facts: object) -> None:
        super().__init__(self.advice, **facts)


class ServiceLevelOutsideError(NoAdviceError):
    """Target outside (0.5, 0.9999]."""

    code = Fault.SERVICE_LEVEL_OUTSIDE.value
    advice = (
        f"The service level must be above {SERVICE_LEVEL_ABOVE} and at most {SERVICE_LEVEL_MAX}. "
        "Choose another, 0.98 for example."
    )


class NoUseHistoryError(NoAdviceError):
    """Not a single day of history."""

    code = Fault.NO_USE_HISTORY.value
    advice = "There is no history of use yet. Set a reorder point by hand."


class UsedOnceError(NoAdviceError):
    """One use ever: a rate cannot be told from it."""

    code = Fault.USED_ONCE.value
    advice = "It was used on one day only, which gives no rate. Set a reorder point by hand."


class LeadTimeUnknownError(NoAdviceError):
    """Neither a received order nor a quote."""

    code = Fault.LEAD_TIME_UNKNOWN.value
    advice = "The lead time is unknown. Enter the days the supplier quotes."


class LeadTimeNegativeError(NoAdviceError):
    """An order received before it was placed."""

    code = Fault.LEAD_TIME_NEGATIVE.value
    advice = "An order was received before it was placed. Correct its dates."


class LeadTimeZeroError(NoAdviceError):
    """Zero days in every order, or quoted."""

    code = Fault.LEAD_TIME_ZERO.value
    advice = "The lead time is zero days. Enter the days from order to shelf, at least 1."


_ERRORS: dict[Fault, type[NoAdviceError]] = {
    Fault.SERVICE_LEVEL_OUTSIDE: ServiceLevelOutsideError,
    Fault.NO_USE_HISTORY: NoUseHistoryError,
    Fault.USED_ONCE: UsedOnceError,
    Fault.LEAD_TIME_UNKNOWN: LeadTimeUnknownError,
    Fault.LEAD_TIME_NEGATIVE: LeadTimeNegativeError,
    Fault.LEAD_TIME_ZERO: LeadTimeZeroError,
}


def no_advice(fault: Fault, **facts: object) -> NoAdviceError:
    """The error for a fault, to raise or, in a list, to read its `detail`."""
    return _ERRORS[fault](**facts)
