"""Adding and changing a row of a plain table that has codes, with its audit."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import IntegrityError, models

from inventory.catalog.errors import DuplicateCodeError, DuplicateGtinError
from shopfloor.audit import audit_change, facts_of
from shopfloor.codes.alphabet import own_code
from shopfloor.errors import InvalidInputError, NotFoundError
from shopfloor.models import User

C = TypeVar("C", bound=models.Model)
"""A table with a column `code`."""


def add_row(row: C, *, by: User, at: datetime) -> C:
    """Write a new row. Three statements.

    Raises:
        OwnCodeError: its code could not be printed or typed.
        InvalidInputError: `facts["fields"]` has the messages by field.
        DuplicateCodeError: its code is taken.
    """
    coded: Any = row
    coded.code = own_code(coded.code)
    refuse_unfit(row)
    if type(row)._default_manager.filter(code=coded.code).exists():
        raise _taken(coded.code)
    _save(row, force_insert=True)
    audit_change(by=by, at=at, row=row, before=None)
    return row


def lock_row(model: type[C], code: str) -> C:
    """The row to be changed. Rows that point at it may still be written meanwhile. One statement.

    Raises:
        NotFoundError: no such row.
    """
    locked = model._default_manager.select_for_update(no_key=True, of=("self",))
    row = locked.filter(code=code.strip().upper()).first()
    if row is None:
        noun = str(model._meta.verbose_name)
        raise NotFoundError(f"No {noun} has this code. Look at the list.", code=code)
    return row


def edit_row(row: C, columns: Mapping[str, Any], *, by: User, at: datetime) -> C:
    """Change columns of a locked row; what is not named stays. At most two statements.

    Raises:
        InvalidInputError: `facts["fields"]` has the messages by field.
    """
    before = facts_of(row)
    for name, value in columns.items():
        setattr(row, name, value)
    refuse_unfit(row)
    _save(row, update_fields=list(columns))
    audit_change(by=by, at=at, row=row, before=before)
    return row


def refuse_unfit(row: models.Model) -> None:
    """Refuse what the columns cannot take, on every database alike. No statement.

    Raises:
        InvalidInputError: `facts["fields"]` has the messages by field.
    """
    pointers = [field.name for field in row._meta.concrete_fields if field.is_relation]
    try:
        row.clean_fields(exclude=[*pointers, "id"])
    except ValidationError as error:
        raise InvalidInputError(
            "Some values cannot be used; the facts name them.", fields=error.message_dict
        ) from error


def _save(row: Any, **how: Any) -> None:
    try:
        row.save(**how)
    except IntegrityError as error:
        # The database alone can tell when two people write the same at once.
        if "gtin" in str(error):
            raise DuplicateGtinError("Another item has this GTIN.") from error
        if "code" in str(error):
            raise _taken(row.code) from error
        raise


def _taken(code: str) -> DuplicateCodeError:
    return DuplicateCodeError(f"The code {code} is taken. Give another.", code=code)
