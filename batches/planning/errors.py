"""What can stand in the way of a plan."""

from __future__ import annotations

from shopfloor.errors import ConflictError, InvalidInputError


class WeekOverError(InvalidInputError):
    """A plan is of weeks to come."""

    code = "week_over"


class PlanLineTwiceError(InvalidInputError):
    """An item stands twice in one week of a plan."""

    code = "plan_line_twice"


class NoCurrentBillError(ConflictError):
    """An item that is to be made, and no current bill says of what."""

    code = "no_current_bill"


class ChanceOutOfReachError(ConflictError):
    """Its runs yield so little or so unevenly that no sensible number is enough."""

    code = "chance_out_of_reach"


class WheelTooFastError(InvalidInputError):
    """A wheel that turns faster than the clamping allows."""

    code = "wheel_too_fast"
