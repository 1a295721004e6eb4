"""What can stand in the way of a label or of a scan."""

from __future__ import annotations

from shopfloor.errors import ConflictError


class ScanAmbiguousError(ConflictError):
    """Several lots carry the supplier's code that was scanned."""

    code = "scan_ambiguous"


class NotOnHoldError(ConflictError):
    """A hold tag for a lot that nothing holds."""

    code = "not_on_hold"


class SsccMissingError(ConflictError):
    """A carton label for a box that has no SSCC yet."""

    code = "sscc_missing"
