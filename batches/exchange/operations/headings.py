"""What headings of the shop's own stand for, said and taken back outside of an import."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from batches.exchange.models import SheetHeading
from batches.exchange.rules.writing import heading_key
from batches.exchange.steps.recording import keep_headings
from shopfloor.audit import audit_change, facts_of
from shopfloor.errors import NotFoundError
from shopfloor.models import User
from shopfloor.operation import operation


@operation
def say_headings(*, headings: Mapping[tuple[str, str], str], by: User, at: datetime) -> None:
    """Let headings stand for columns from now on."""
    keep_headings(headings, by=by, at=at)


@operation
def forget_heading(*, sheet: str, heading: str, by: User, at: datetime) -> None:
    """Let a heading stand for nothing again.

    Raises:
        NotFoundError: it does not.
    """
    row = SheetHeading.objects.filter(sheet=sheet, heading=heading_key(heading)).first()
    if row is None:
        raise NotFoundError("This heading stands for nothing.", sheet=sheet, heading=heading)
    before = facts_of(row)
    audit_change(by=by, at=at, row=row, before=before, after={**before, "column": None})
    row.delete()
