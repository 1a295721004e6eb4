"""Writes about tokens of programs."""

from __future__ import annotations

from datetime import date, datetime
from typing import NamedTuple

from shopfloor.audit import audit_change, note_access
from shopfloor.days import shop_day
from shopfloor.errors import InvalidInputError, NotFoundError, PersonShutOutError
from shopfloor.models import AccessKind, Token, User
from shopfloor.operation import operation
from shopfloor.selectors import TokenRow, token_row
from shopfloor.steps import end_token, locked_person
from shopfloor.tokens import HINT_LENGTH, digest_of, new_token_text


class IssuedToken(NamedTuple):
    """A new token; `text` is shown once and kept nowhere."""

    row: TokenRow
    text: str


@operation
def issue_token(
    *, username: str, name: str, by: User, at: datetime, ends_on: date | None = None
) -> IssuedToken:
    """Make a token that lets a program in as a person.

    Args:
        username: As whom.
        name: What uses it.
        by: Who makes it.
        at: When.
        ends_on: The last day of the shop on which it works; doors always name one.

    Raises:
        NotFoundError: nobody has that name.
        PersonBlankedError: the name was blanked.
        PersonShutOutError: the person may not sign in.
        InvalidInputError: `ends_on` has passed.
    """
    person = locked_person(username)
    if not person.is_active:
        raise PersonShutOutError(
            "This person may not sign in. Let them in first.", username=person.username
        )
    if ends_on is not None and ends_on < shop_day(at):
        raise InvalidInputError("The token would have ended already.", ends_on=ends_on.isoformat())
    text = new_token_text()
    token = Token.objects.create(
        user=person,
        name=name,
        digest=digest_of(text),
        hint=text[-HINT_LENGTH:],
        made_by=by,
        ends_on=ends_on,
        created_at=at,
    )
    audit_change(by=by, at=at, row=token, before=None)
    note_access(AccessKind.TOKEN_MADE, person=person, by=by, at=at, token=token)
    return IssuedToken(row=token_row(token), text=text)


@operation
def revoke_token(*, token_id: int, by: User, at: datetime) -> TokenRow:
    """End a token. One that has ended stays as it is.

    Raises:
        NotFoundError: no such token.
    """
    return _revoked(_token(token_id), by=by, at=at)


@operation
def revoke_own_token(*, token_id: int, by: User, at: datetime) -> TokenRow:
    """End a token of one's own; those of others are not there for this.

    Raises:
        NotFoundError: no such token, or somebody else's.
    """
    return _revoked(_token(token_id, user_id=by.pk), by=by, at=at)


def _token(token_id: int, **more: int) -> Token:
    tokens = Token.objects.select_for_update(of=("self",)).select_related("user", "made_by")
    token = tokens.filter(pk=token_id, **more).first()
    if token is None:
        raise NotFoundError("There is no such token.", id=token_id)
    return token


def _revoked(token: Token, *, by: User, at: datetime) -> TokenRow:
    if token.revoked_at is None:
        end_token(token, by=by, at=at)
    return token_row(token)
