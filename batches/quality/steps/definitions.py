"""Steps about check definitions."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db.models import TextField

from batches.bills.selectors.bills import stage
from batches.quality.errors import NO_DEFINITION, DefinitionInUseError
from batches.quality.models import CheckDefinition, CheckKind, HowMany
from batches.runs.models import ScrapReason
from inventory.catalog.selectors import item
from inventory.catalog.steps.rows import add_row, refuse_unfit
from shopfloor.audit import audit_change, facts_of
from shopfloor.errors import InvalidInputError, NotFoundError
from shopfloor.models import User
from shopfloor.prepared import Given, Prepared

_STAYS = ("stage", "item", "kind", "unit")


def add_definition(
    *, code: str, fields: Mapping[str, Any], by: User, at: datetime
) -> CheckDefinition:
    """Add a definition.

    Raises:
        OwnCodeError, DuplicateCodeError: the code cannot be used, or is taken.
        NotFoundError: its stage, item or defect.
        InvalidInputError: `facts["fields"]` has the messages by field.
    """
    row = CheckDefinition(code=code)
    _set(row, fields)
    return add_row(row, by=by, at=at)


def edit_definition(
    *, code: str, fields: Mapping[str, Any], by: User, at: datetime
) -> CheckDefinition:
    """Change a definition; what is not named stays.

    Raises:
        NotFoundError: no such definition, stage, item or defect.
        DefinitionInUseError: checks stand of it, and what it looks at would change.
        InvalidInputError: `facts["fields"]` has the messages by field.
    """
    row = lock_definition(code)
    before = facts_of(row)
    _set(row, fields)
    after = facts_of(row)
    if any(before[name] != after[name] for name in _STAYS) and row.checks.exists():
        raise DefinitionInUseError(
            "Checks were recorded of it, so stage, item, kind and unit stay. Add another and take "
            "this one out of use.",
            definition=row.code,
        )
    row.save()
    audit_change(by=by, at=at, row=row, before=before)
    return row


def lock_definition(code: str) -> CheckDefinition:
    """A definition, locked: its checks take turns, since one decides how the next is sampled.

    Raises:
        NotFoundError: no such definition.
    """
    found = _locked(code=code.strip().upper())
    if not found:
        raise NotFoundError(NO_DEFINITION, definition=code)
    return found[0]


_locked = Prepared(
    lambda: (
        CheckDefinition.objects.select_for_update(no_key=True, of=("self",))
        .select_related("stage")
        .filter(code=Given("code", TextField()))
    )
)


def _set(row: CheckDefinition, fields: Mapping[str, Any]) -> None:
    columns = dict(fields)
    finders = {"stage": stage, "item": item, "defect": _defect}
    for name, find in finders.items():
        if name in columns:
            columns[name] = find(columns[name]) if columns[name] else None
    for name, value in columns.items():
        setattr(row, name, value)
    refuse_unfit(row)
    if wrong := _wrong(row):
        raise InvalidInputError(
            "Some values do not go together; the facts name them.", fields=wrong
        )


def _defect(code: str) -> ScrapReason:
    reason = ScrapReason.objects.filter(code=code).first()
    if reason is None:
        raise NotFoundError("No scrap reason has this code.", defect=code)
    return reason


def _wrong(row: CheckDefinition) -> dict[str, list[str]]:
    """What does not go together, by field."""
    is_measured = row.kind == CheckKind.MEASURED
    has_limit = row.lower is not None or row.upper is not None
    slips = {
        "lower": (is_measured and not has_limit, "Give a measured check a limit."),
        "kind": (
            not is_measured and (has_limit or row.unit != ""),
            "Only measured checks have a unit and limits.",
        ),
        "unit": (is_measured and not row.unit, "Give a measured check its unit."),
        "upper": (
            row.lower is not None and row.upper is not None and row.upper <= row.lower,
            "The upper limit is above the lower one.",
        ),
        "aql": (
            row.how_many == HowMany.PLAN and not (row.level and row.aql),
            "A plan needs a level and an aql.",
        ),
        "fixed_pieces": (
            row.how_many == HowMany.FIXED and not row.fixed_pieces,
            "Say how many pieces, at least 1.",
        ),
        "accept_pieces": (
            row.how_many == HowMany.FIXED
            and row.kind != CheckKind.FLAWS
            and row.accept_pieces >= (row.fixed_pieces or 1),
            "Fewer may fail than are tested.",
        ),
    }
    return {name: [words] for name, (is_wrong, words) in slips.items() if is_wrong}
