"""What writes about people are made of; each needs a transaction already open."""

from __future__ import annotations

from datetime import datetime

from axes.utils import reset as forget_failed_sign_ins
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db.models import F, Q

from shopfloor.audit import audit_change, facts_of, note_access
from shopfloor.errors import (
    LastOwnerError,
    NotFoundError,
    PasswordWeakError,
    PersonBlankedError,
)
from shopfloor.models import AccessKind, Token, User
from shopfloor.roles import Role


def locked_person(username: str) -> User:
    """The person, locked together with every owner, so that two owners cannot both step down.

    Raises:
        NotFoundError: nobody has that name.
        PersonBlankedError: the name was blanked.
    """
    rows = User.objects.select_for_update().filter(
        Q(username=username.lower()) | Q(role=Role.OWNER)
    )
    person = next((row for row in rows.order_by("pk") if row.username == username.lower()), None)
    if person is None:
        raise NotFoundError("Nobody has that name. Look at the list of people.", username=username)
    if person.blanked_at is not None:
        raise PersonBlankedError("This person's name was blanked.", username=person.username)
    return person


def refuse_ownerless() -> None:
    """Refuse to leave the shop without an owner who can sign in.

    Raises:
        LastOwnerError: nobody is left.
    """
    if not User.objects.filter(role=Role.OWNER, is_active=True).exists():
        raise LastOwnerError(
            "The shop needs an owner who can sign in. Make somebody else an owner first."
        )


def check_password(password: str, person: User) -> None:
    """Refuse a password that is easily guessed.

    Raises:
        PasswordWeakError: the facts say why.
    """
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise PasswordWeakError(" ".join(error.messages), reasons=error.messages) from error


def keep_password(person: User, password: str, *, by: User, at: datetime) -> None:
    """Give a person a new password: every session ends, and wrong ones so far are forgotten.

    Raises:
        PasswordWeakError: the password is easily guessed.
    """
    check_password(password, person)
    person.set_password(password)
    person.save(update_fields=["password"])
    forget_failed_sign_ins(username=person.username)
    audit_change(
        by=by, at=at, row=person, before={"password": "kept secret"}, after={"password": "changed"}
    )
    note_access(AccessKind.PASSWORD_CHANGED, person=person, by=by, at=at)


def end_every_session(person: User, *, by: User, at: datetime) -> None:
    """End the person's sessions, wherever they are; tokens go on."""
    User.objects.filter(pk=person.pk).update(session_epoch=F("session_epoch") + 1)
    person.refresh_from_db(fields=["session_epoch"])
    note_access(AccessKind.SESSIONS_ENDED, person=person, by=by, at=at)


def end_every_token(person: User, *, by: User, at: datetime) -> None:
    """Revoke the tokens of the person that still work."""
    for token in person.tokens.filter(revoked_at__isnull=True).order_by("pk"):
        end_token(token, by=by, at=at)


def end_token(token: Token, *, by: User, at: datetime) -> None:
    """Revoke a token that has not been; `token.user` is at hand."""
    before = facts_of(token)
    token.revoked_at = at
    token.save(update_fields=["revoked_at"])
    audit_change(by=by, at=at, row=token, before=before)
    note_access(AccessKind.TOKEN_REVOKED, person=token.user, by=by, at=at, token=token)
