"""What can stand in the way of a label or of a scan."""

from __future__ import annotations

from shopfloor.errors import ConflictError, InvalidInputError


class ScanAmbiguousError(ConflictError):
    """Several lots carry the supplier's code that was scanned."""

    code = "scan_ambiguous"


class ScanContradictsError(ConflictError):
    """A label names a lot of ours, and a GTIN that is not that of the lot's item."""

    code = "scan_contradicts"


class NotOnHoldError(ConflictError):
    """A hold tag for a lot that nothing holds."""

    code = "not_on_hold"


class SsccMissingError(ConflictError):
    """A carton label for a box that has no SSCC yet."""

    code = "sscc_missing"


class StockTooSmallError(InvalidInputError):
    """The paper does not go on labels that small; the facts say what it needs."""

    code = "stock_too_small"


class StartOffSheetError(InvalidInputError):
    """The first label to use lies beyond the page."""

    code = "start_off_sheet"


class StockImpossibleError(InvalidInputError):
    """Dimensions that no labels can have."""

    code = "stock_impossible"


class StockUnknownError(InvalidInputError):
    """Labels of a name that no stock has."""

    code = "stock_unknown"
