"""What headings of the shop's own stand for, said and taken back outside of an import."""

from __future__ import annotations

from datetime import datetime

from batches.exchange.models import SheetHeading
from batches.exchange.rules import SHEETS
from batches.exchange.rules.writing import heading_key, headings_said
from batches.exchange.steps.recording import keep_headings
from shopfloor.audit import audit_change, facts_of
from shopfloor.errors import InvalidInputError, NotFoundError
from shopfloor.models import User
from shopfloor.operation import operation


@operation
def say_heading(*, sheet: str, heading: str, column: str, by: User, at: datetime) -> SheetHeading:
    """Let a heading stand for a column from now on; an empty one: its cells are left out.

    Raises:
        InvalidInputError: the sheet has no such column, or the heading is one of its own.
    """
    key = heading_key(heading)
    if any(each.name == sheet and each.has_column(key) for each in SHEETS):
        raise InvalidInputError(
            f"{key} is a column of {sheet} itself. Say what it stands for with each import."
        )
    keep_headings(headings_said([f"{sheet}:{heading}={column}"]), by=by, at=at)
    return SheetHeading.objects.get(sheet=sheet, heading=key)


@operation
def forget_heading(*, sheet: str, heading: str, by: User, at: datetime) -> SheetHeading:
    """Let a heading stand for nothing again; what it stood for is answered.

    Raises:
        NotFoundError: it does not.
    """
    row = SheetHeading.objects.filter(sheet=sheet, heading=heading_key(heading)).first()
    if row is None:
        raise NotFoundError("This heading stands for nothing.", sheet=sheet, heading=heading)
    before = facts_of(row)
    audit_change(by=by, at=at, row=row, before=before, after={**before, "column": None})
    row.delete()
    return row
