"""What can stand in the way of a label or of a scan."""

from __future__ import annotations

from shopfloor.errors import ConflictError


class ScanAmbiguousError(ConflictError):
    """Several lots carry the supplier's code that was scanned."""

    code = "scan_ambiguous"
