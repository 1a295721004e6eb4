"""What can stand in the way of an import."""

from __future__ import annotations

from shopfloor.errors import InvalidInputError


class ImportRefusedError(InvalidInputError):
    """Something in the sheets is wrong; `facts["problems"]` has a line each. Nothing is written."""

    code = "import_refused"
