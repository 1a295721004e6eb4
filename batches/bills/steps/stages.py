"""Steps about stages: a shop adds, renames and drops them."""

from __future__ import annotations

from datetime import datetime
from typing import Any, TypedDict

from django.db import IntegrityError

from batches.bills.errors import DimensionMismatchError
from batches.bills.models import Stage
from inventory.catalog.errors import DuplicateCodeError
from inventory.catalog.selectors import place, refuse_out_of_use
from inventory.catalog.steps.rows import refuse_unfit
from shopfloor.audit import audit_change, facts_of
from shopfloor.codes.alphabet import own_code
from shopfloor.errors import NotFoundError
from shopfloor.models import User


class StageFields(TypedDict, total=False):
    """What a person may set of a stage; a new one needs `name` and `position`.

    `is_mixing`: it makes a mixture by mass or volume, not pieces. `place` is a code.
    """

    name: str
    position: int
    is_mixing: bool
    place: str | None
    is_active: bool


def add_stage(*, code: str, fields: StageFields, by: User, at: datetime) -> Stage:
    """Add a stage.

    Raises:
        OwnCodeError, DuplicateCodeError: the code cannot be used, or is taken.
        NotFoundError, NotActiveError: its place.
        InvalidInputError: `facts["fields"]` has the messages by field.
    """
    stage = Stage(code=own_code(code))
    _set(stage, fields)
    try:
        stage.save(force_insert=True)
    except IntegrityError as error:
        if "code" not in str(error):
            raise
        raise DuplicateCodeError("Another stage has this code.", code=stage.code) from error
    audit_change(by=by, at=at, row=stage, before=None)
    return stage


def edit_stage(*, code: str, fields: StageFields, by: User, at: datetime) -> Stage:
    """Change a stage; what is not named stays.

    Raises:
        NotFoundError, NotActiveError: no such stage, or its place.
        DimensionMismatchError: bills stand at it, so what it makes stays.
        InvalidInputError: `facts["fields"]` has the messages by field.
    """
    stage = lock_stage(code)
    before = facts_of(stage)
    if fields.get("is_mixing", stage.is_mixing) != stage.is_mixing and stage.bills.exists():
        raise DimensionMismatchError(
            "Bills stand at this stage, so what it makes stays. Add another stage for mixing.",
            stage=stage.code,
        )
    _set(stage, fields)
    stage.save()
    audit_change(by=by, at=at, row=stage, before=before)
    return stage


def lock_stage(code: str) -> Stage:
    """A stage, locked: bills put at it, and what it makes, take turns.

    Raises:
        NotFoundError: no such stage.
    """
    locked = Stage.objects.select_for_update(no_key=True)
    stage = locked.filter(code=code.strip().upper()).first()
    if stage is None:
        raise NotFoundError("No stage has this code. Look at the list.", stage=code)
    return stage


def _set(stage: Stage, fields: StageFields) -> None:
    columns: dict[str, Any] = dict(fields)
    if columns.get("place"):
        columns["place"] = place(columns["place"])
        refuse_out_of_use(columns["place"])
    elif "place" in columns:
        columns["place"] = None
    for name, value in columns.items():
        setattr(stage, name, value)
    refuse_unfit(stage)
