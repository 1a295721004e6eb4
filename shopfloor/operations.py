"""Writes about people: who there is, what they may do, how they and their programs come in."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from datetime import datetime
from typing import Any, NamedTuple

from axes.utils import reset as forget_failed_sign_ins
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.db.models import Q, TextField
from django.db.models.functions import Cast

from shopfloor.audit import audit_change, facts_of
from shopfloor.errors import ConflictError, InvalidInputError, NotFoundError
from shopfloor.models import USERNAME_PATTERN, RequestKey, Token, User
from shopfloor.operation import operation
from shopfloor.roles import Role
from shopfloor.selectors import PersonRow, TokenRow, person_row, token_row
from shopfloor.tokens import digest_of, new_token_text

# Where a kept answer may name a person; blanking a name blanks it there too.
PERSON_MEMBERS = frozenset({"by", "username", "display_name"})


class UsernameTakenError(ConflictError):
    """Somebody has that sign-in name."""

    code = "username_taken"


class PasswordWeakError(InvalidInputError):
    """A password that is easily guessed; the facts say why."""

    code = "password_weak"


class PasswordWrongError(InvalidInputError):
    """The present password was not the one given."""

    code = "password_wrong"


class LastOwnerError(ConflictError):
    """The shop would be left without an owner who can sign in."""

    code = "last_owner"


class PersonBlankedError(ConflictError):
    """The name was blanked; the person does not come back."""

    code = "person_blanked"


class ShopHasPeopleError(ConflictError):
    """The first owner is made only while there is nobody."""

    code = "shop_has_people"


class IssuedToken(NamedTuple):
    """A new token; `text` is shown once and kept nowhere."""

    row: TokenRow
    text: str


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
    person = _locked(username)
    before = facts_of(person)
    person.role = role
    person.save(update_fields=["role"])
    _refuse_ownerless()
    audit_change(by=by, at=at, row=person, before=before)
    return person_row(person)


@operation
def let_sign_in(*, username: str, is_active: bool, by: User, at: datetime) -> PersonRow:
    """Let a person sign in, or no longer: their sessions and tokens end at once.

    Raises:
        NotFoundError: nobody has that name.
        PersonBlankedError: the name was blanked.
        LastOwnerError: this is the last owner who can sign in.
    """
    person = _locked(username)
    before = facts_of(person)
    person.is_active = is_active
    person.save(update_fields=["is_active"])
    _refuse_ownerless()
    audit_change(by=by, at=at, row=person, before=before)
    return person_row(person)


@operation
def set_password(*, username: str, password: str, by: User, at: datetime) -> PersonRow:
    """Give a person a new password; their other sessions end.

    Raises:
        NotFoundError: nobody has that name.
        PersonBlankedError: the name was blanked.
        PasswordWeakError: the password is easily guessed.
    """
    person = _locked(username)
    _keep_password(person, password, by=by, at=at)
    return person_row(person)


@operation
def change_own_password(*, present: str, password: str, by: User, at: datetime) -> PersonRow:
    """Give oneself a new password, knowing the present one.

    Raises:
        PasswordWrongError: `present` is not the present password.
        PasswordWeakError: the new password is easily guessed.
    """
    person = _locked(by.username)
    if not person.check_password(present):
        raise PasswordWrongError("That is not your present password.")
    _keep_password(person, password, by=by, at=at)
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
    person = _locked(username)
    before = facts_of(person)
    names = {person.username, person.display_name}
    forget_failed_sign_ins(username=person.username)
    person.username = f"blanked-{person.pk}"
    person.display_name = f"Blanked person {person.pk}"
    person.is_active = False
    person.blanked_at = at
    person.set_unusable_password()
    person.save()
    _refuse_ownerless()
    person.tokens.filter(revoked_at__isnull=True).update(revoked_at=at)
    person.tokens.update(name="blanked")
    _blank_answers(names, stand_in=person.username)
    audit_change(by=by, at=at, row=person, before=before)
    return person_row(person)


@operation
def issue_token(*, username: str, name: str, by: User, at: datetime) -> IssuedToken:
    """Make a token that lets a program in as a person.

    Raises:
        NotFoundError: nobody has that name.
        PersonBlankedError: the name was blanked.
    """
    person = _locked(username)
    text = new_token_text()
    token = Token.objects.create(
        user=person, name=name, digest=digest_of(text), hint=text[-4:], created_at=at
    )
    audit_change(by=by, at=at, row=token, before=None)
    return IssuedToken(row=token_row(token), text=text)


@operation
def revoke_token(*, token_id: int, by: User, at: datetime) -> TokenRow:
    """End a token. One that has ended stays as it is.

    Raises:
        NotFoundError: no such token.
    """
    token = Token.objects.select_related("user").filter(pk=token_id).first()
    if token is None:
        raise NotFoundError("There is no such token.", id=token_id)
    before = facts_of(token)
    if token.revoked_at is None:
        token.revoked_at = at
        token.save(update_fields=["revoked_at"])
    audit_change(by=by, at=at, row=token, before=before)
    return token_row(token)


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
        _check_password(password, person)
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


def _locked(username: str) -> User:
    """The person, locked together with every owner, so that two owners cannot both step down."""
    rows = User.objects.select_for_update().filter(
        Q(username=username.lower()) | Q(role=Role.OWNER)
    )
    person = next((row for row in rows.order_by("pk") if row.username == username.lower()), None)
    if person is None:
        raise NotFoundError("Nobody has that name. Look at the list of people.", username=username)
    if person.blanked_at is not None:
        raise PersonBlankedError("This person's name was blanked.", username=person.username)
    return person


def _refuse_ownerless() -> None:
    if not User.objects.filter(role=Role.OWNER, is_active=True).exists():
        raise LastOwnerError(
            "The shop needs an owner who can sign in. Make somebody else an owner first."
        )


def _check_password(password: str, person: User) -> None:
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise PasswordWeakError(" ".join(error.messages), reasons=error.messages) from error


def _keep_password(person: User, password: str, *, by: User, at: datetime) -> None:
    _check_password(password, person)
    person.set_password(password)
    person.save(update_fields=["password"])
    audit_change(
        by=by, at=at, row=person, before={"password": "kept secret"}, after={"password": "changed"}
    )


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
