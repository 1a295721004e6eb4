"""Writes about passwords."""

from __future__ import annotations

from datetime import datetime

from shopfloor.errors import PasswordWrongError
from shopfloor.models import User
from shopfloor.operation import operation
from shopfloor.selectors import PersonRow, person_row
from shopfloor.steps import end_every_token, keep_password, locked_person


@operation
def set_password(
    *, username: str, password: str, by: User, at: datetime, is_token_end_wanted: bool = False
) -> PersonRow:
    """Give a person a new password; their sessions end, and if wanted their tokens.

    Raises:
        NotFoundError: nobody has that name.
        PersonBlankedError: the name was blanked.
        PasswordWeakError: the password is easily guessed.
    """
    person = locked_person(username)
    keep_password(person, password, by=by, at=at)
    if is_token_end_wanted:
        end_every_token(person, by=by, at=at)
    return person_row(person)


@operation
def change_own_password(*, present: str, password: str, by: User, at: datetime) -> PersonRow:
    """Give oneself a new password, knowing the present one; every session ends.

    Raises:
        PasswordWrongError: `present` is not the present password.
        PasswordWeakError: the new password is easily guessed.
    """
    person = locked_person(by.username)
    if not person.check_password(present):
        raise PasswordWrongError("That is not your present password.")
    keep_password(person, password, by=by, at=at)
    return person_row(person)
