"""What can stand in the way of a stage or of a bill of materials."""

from __future__ import annotations

from shopfloor.errors import ConflictError, InvalidInputError


class BillStandsError(ConflictError):
    """The item has a bill already; it takes a new revision instead."""

    code = "bill_stands"


class RevisionReleasedError(ConflictError):
    """A released or retired revision never changes."""

    code = "revision_released"


class RevisionRetiredError(ConflictError):
    """The revision is retired already."""

    code = "revision_retired"


class BillEmptyError(ConflictError):
    """A bill that takes nothing cannot be released."""

    code = "bill_empty"


class BillCycleError(ConflictError):
    """An item would be made of itself; the facts name the path."""

    code = "bill_cycle"


class LineOfItselfError(InvalidInputError):
    """An item cannot be a line of its own bill."""

    code = "line_of_itself"


class LineTwiceError(InvalidInputError):
    """An item stands twice among what is taken, what comes off, or a line's alternatives."""

    code = "line_twice"


class LineTakesNothingError(InvalidInputError):
    """A line needs an amount a piece, an amount a batch, or both."""

    code = "line_takes_nothing"


class ByProductSharesError(ConflictError):
    """By-products would carry off all the value, or more."""

    code = "by_product_shares"


class RatioOutOfRangeError(InvalidInputError):
    """A share that cannot be meant."""

    code = "ratio_out_of_range"


class DimensionMismatchError(InvalidInputError):
    """Two items that are not kept in the same kind of unit, or a stage that makes another kind."""

    code = "dimension_mismatch"


class PerPieceAmountError(InvalidInputError):
    """An amount a piece that is too small, or too large, to be kept exactly."""

    code = "per_piece_amount"


class PaintedAreaMissingError(ConflictError):
    """Paint cannot be scaled: a model lacks its painted area."""

    code = "painted_area_missing"


class NotOnBillError(InvalidInputError):
    """An item to be replaced is not on the bill."""

    code = "not_on_bill"
