"""Writes about who came in, failed to, or left."""

from __future__ import annotations

from datetime import datetime

from django.contrib.sessions.models import Session

from shopfloor.audit import note_access
from shopfloor.models import AccessKind, User
from shopfloor.operation import operation
from shopfloor.selectors import PersonRow, person_row
from shopfloor.steps import end_every_session, locked_person


@operation
def note_sign_in(*, person: User, address: str | None, at: datetime) -> None:
    """Keep that a person signed in; sessions that ended by themselves are swept out."""
    note_access(AccessKind.SIGNED_IN, person=person, by=person, at=at, address=address)
    Session.objects.filter(expire_date__lt=at).delete()


@operation
def note_failed_sign_in(
    *, username: str, address: str | None, at: datetime, has_locked_out: bool
) -> None:
    """Keep that a name and a password did not go together, and whether it was once too often.

    A name that nobody has is not kept: people type passwords into the wrong field.
    """
    person = User.objects.filter(username=username.lower()).first()
    kinds = [AccessKind.SIGN_IN_FAILED] + [AccessKind.LOCKED_OUT] * has_locked_out
    for kind in kinds:
        note_access(kind, person=person, by=None, at=at, address=address)


@operation
def note_sign_out(*, person: User, address: str | None, at: datetime) -> None:
    """Keep that a person signed out."""
    note_access(AccessKind.SIGNED_OUT, person=person, by=person, at=at, address=address)


@operation
def end_sessions(*, username: str, by: User, at: datetime) -> PersonRow:
    """Sign a person out everywhere. Tokens go on.

    Raises:
        NotFoundError: nobody has that name.
        PersonBlankedError: the name was blanked.
    """
    person = locked_person(username)
    end_every_session(person, by=by, at=at)
    return person_row(person)
