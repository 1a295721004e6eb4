"""Reads of check definitions."""

from __future__ import annotations

from django.db.models import QuerySet

from batches.quality.errors import NO_DEFINITION
from batches.quality.models import CheckDefinition
from shopfloor.errors import NotFoundError


def definitions() -> QuerySet[CheckDefinition]:
    """Definitions, to be filtered and paged; two statements a page."""
    return CheckDefinition.objects.select_related("stage", "item", "defect")


def definition_row(code: str) -> CheckDefinition:
    """One definition. One statement.

    Raises:
        NotFoundError: no such definition.
    """
    row = definitions().filter(code=code.strip().upper()).first()
    if row is None:
        raise NotFoundError(NO_DEFINITION, definition=code)
    return row
