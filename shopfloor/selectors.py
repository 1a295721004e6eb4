"""Reads of people and their tokens. Each function states its queries."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from django.db import Error, connection
from django.db.models import QuerySet

from shopfloor.errors import NotFoundError
from shopfloor.models import RequestKey, Token, User


class PersonRow(NamedTuple):
    """A person as the API shows one."""

    username: str
    display_name: str
    role: str
    is_active: bool
    created_at: datetime
    blanked_at: datetime | None


class TokenRow(NamedTuple):
    """A token without its secret."""

    id: int
    username: str
    name: str
    hint: str
    created_at: datetime
    revoked_at: datetime | None


def person_row(user: User) -> PersonRow:
    """One person. No query."""
    return PersonRow(
        username=user.username,
        display_name=user.display_name,
        role=user.role,
        is_active=user.is_active,
        created_at=user.created_at,
        blanked_at=user.blanked_at,
    )


def token_row(token: Token) -> TokenRow:
    """One token. No query when its user is loaded."""
    return TokenRow(
        id=token.pk,
        username=token.user.username,
        name=token.name,
        hint=token.hint,
        created_at=token.created_at,
        revoked_at=token.revoked_at,
    )


def person_named(username: str) -> User:
    """One query.

    Raises:
        NotFoundError: nobody has that name.
    """
    person = User.objects.filter(username=username.lower()).first()
    if person is None:
        raise NotFoundError("Nobody has that name. Look at the list of people.", username=username)
    return person


def people() -> QuerySet[User]:
    """Everybody, to be filtered and paged; two queries a page."""
    return User.objects.all()


def tokens() -> QuerySet[Token]:
    """Every token with its user, to be filtered and paged; two queries a page."""
    return Token.objects.select_related("user")


def has_people() -> bool:
    """Whether anybody was ever entered. One query."""
    return User.objects.exists()


def is_database_up() -> bool:
    """Whether the database answers. One query."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            return cursor.fetchone() is not None
    except Error:
        return False


def is_set_up() -> bool:
    """Whether the database has our tables. Asking does not make an SQLite file. One statement."""
    name = str(connection.settings_dict["NAME"])
    is_file = connection.vendor == "sqlite" and not name.startswith("file:")
    if is_file and not Path(name).exists():
        return False
    return RequestKey._meta.db_table in connection.introspection.table_names()
