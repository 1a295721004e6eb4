"""Checks: what is to be tested, and what was found."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from batches.quality.models import Check, CheckDefinition
from batches.quality.steps.checking import CheckDraft, record_check
from batches.quality.steps.definitions import add_definition, edit_definition
from shopfloor import afterwards
from shopfloor.models import User
from shopfloor.operation import operation
from shopfloor.stamp import Stamp


@operation
def create_definition(
    *, code: str, fields: Mapping[str, Any], by: User, at: datetime
) -> CheckDefinition:
    """Add a definition; see `add_definition` for what it refuses."""
    return add_definition(code=code, fields=fields, by=by, at=at)


@operation
def change_definition(
    *, code: str, fields: Mapping[str, Any], by: User, at: datetime
) -> CheckDefinition:
    """Change a definition; see `edit_definition` for what it refuses."""
    return edit_definition(code=code, fields=fields, by=by, at=at)


@operation
def check(*, draft: CheckDraft, stamp: Stamp) -> Check:
    """Record a check; see `record_check` for what it refuses. A failed one holds what it is of."""
    recorded = record_check(draft, stamp)
    afterwards.tell(afterwards.CHECKED, recorded.definition_id)
    return recorded
