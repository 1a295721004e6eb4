"""Writes about people: who there is, and what they may do."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from axes.utils import reset as forget_failed_sign_ins
from django.db import IntegrityError
from django.db.models import Q, TextField
from django.db.models.functions import Cast

from shopfloor.audit import audit_change, facts_of
from shopfloor.errors import InvalidInputError, ShopHasPeopleError, UsernameTakenError
from shopfloor.models import USERNAME_PATTERN, RequestKey, User
from shopfloor.operation import operation
from shopfloor.roles import Role
from shopfloor.selectors import PersonRow, person_row
from shopfloor.steps import (
    check_password,
    end_every_session,
    end_every_token,
    locked_person,
    refuse_ownerless,
)

# Where a kept answer may name a person; blanking a name blanks it there too.
PERSON_MEMBERS = frozenset({"by", "username", "display_name", "made_by"})


@operation
def create_first_owner(
    *, username: str, display_name: str, password: str | None, at: datetime
) -> PersonRow:
    """Enter the first person of an empty shop.

    Raises:
        ShopHasPeopleError: there is somebody already, who can enter others.
        InvalidInputError: the name or the password cannot be used.
    """
    if User.objects.exists():
        raise ShopHasPeopleError("There are people already. An owner enters the next one.")
    return person_row(_new_person(username, display_name, Role.OWNER, password, by=None, at=at))


@operation
def create_person(
    *,
    username: str,
    display_name: str,
    role: Role,
    password: str | None,
    by: User,
    at: datetime,
) -> PersonRow:
    """Enter a person. Without a password only tokens let them in.

    Raises:
        InvalidInputError: the name or the password cannot be used.
        UsernameTakenError: somebody has that sign-in name.
    """
    return person_row(_new_person(username, display_name, role, password, by=by, at=at))


@operation
def change_role(*, username: str, role: Role, by: User, at: datetime) -> PersonRow:
    """Give a person another role.

    Raises:
        NotFoundError: nobody has that name.
        PersonBlankedError: the name was blanked.
        LastOwnerError: this is the last owner who can sign in.
    """
    person = locked_person(username)
    before = facts_of(person)
    person.role = role
    person.save(update_fields=["role"])
    refuse_ownerless()
    audit_change(by=by, at=at, row=person, before=before)
    return person_row(person)


@operation
def let_sign_in(*, username: str, is_active: bool, by: User, at: datetime) -> PersonRow:
    """Let a person sign in, or no longer: their sessions and tokens end at once, for good.

    Raises:
        NotFoundError: nobody has that name.
        PersonBlankedError: the name was blanked.
        LastOwnerError: this is the last owner who can sign in.
    """
    person = locked_person(username)
    before = facts_of(person)
    person.is_active = is_active
    person.save(update_fields=["is_active"])
    refuse_ownerless()
    audit_change(by=by, at=at, row=person, before=before)
    if is_active != before["is_active"]:
        # Both ways: what once let them in must not come back to life with them.
        end_every_session(person, by=by, at=at)
        end_every_token(person, by=by, at=at)
    return person_row(person)


@operation
def blank_name(*, username: str, by: User, at: datetime) -> PersonRow:
    """Take a person's names out of the shop's records, for good; what they did stays.

    They can no longer sign in, and their tokens are revoked.

    Raises:
        NotFoundError: nobody has that name.
        PersonBlankedError: it was done before.
        LastOwnerError: this is the last owner who can sign in.
    """
    person = locked_person(username)
    before = facts_of(person)
    names = {person.username, person.display_name}
    forget_failed_sign_ins(username=person.username)
    person.username = f"blanked-{person.pk}"
    person.display_name = f"Blanked person {person.pk}"
    person.is_active = False
    person.blanked_at = at
    person.set_unusable_password()
    person.save()
    refuse_ownerless()
    end_every_token(person, by=by, at=at)
    person.tokens.update(name="blanked")
    _blank_answers(names, stand_in=person.username)
    audit_change(by=by, at=at, row=person, before=before)
    return person_row(person)


def _new_person(
    username: str,
    display_name: str,
    role: Role,
    password: str | None,
    *,
    by: User | None,
    at: datetime,
) -> User:
    username = username.lower()
    if not re.match(USERNAME_PATTERN, username):
        raise InvalidInputError(
            "A sign-in name has 1 to 40 letters a to z, digits, dots, dashes and underscores.",
            username=username[:80],
        )
    person = User(username=username, display_name=display_name, role=role, created_at=at)
    if password is None:
        person.set_unusable_password()
    else:
        check_password(password, person)
        person.set_password(password)
    try:
        person.save(force_insert=True)
    except IntegrityError as error:
        # The database alone can tell when two owners enter the same name at once.
        if "username" not in str(error):
            raise
        raise UsernameTakenError("Somebody has that sign-in name.", username=username) from error
    audit_change(by=by or person, at=at, row=person, before=None)
    return person


def _blank_answers(names: set[str], *, stand_in: str) -> None:
    """Take the names out of the answers kept for repeated requests."""
    # PostgreSQL keeps the characters, SQLite their escapes.
    spellings = {
        json.dumps(name, ensure_ascii=is_ascii) for name in names for is_ascii in (True, False)
    }
    mentions = Q()
    for spelling in spellings:
        mentions |= Q(answer_text__contains=spelling)
    kept = RequestKey.objects.annotate(answer_text=Cast("answer", TextField())).filter(mentions)
    for row in kept:
        row.answer = _without_names(row.answer, names, stand_in)
        row.save(update_fields=["answer"])


def _without_names(answer: Any, names: set[str], stand_in: str) -> Any:
    if isinstance(answer, list):
        return [_without_names(item, names, stand_in) for item in answer]
    if not isinstance(answer, Mapping):
        return answer
    return {
        member: stand_in
        if member in PERSON_MEMBERS and value in names
        else _without_names(value, names, stand_in)
        for member, value in answer.items()
    }
