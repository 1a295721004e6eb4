"""Tokens of programs: how one is made, kept and recognized. Issuing and revoking are operations."""

from __future__ import annotations

import contextlib
import hashlib
import secrets
import string
import zlib
from datetime import UTC, date, datetime
from typing import Any

from django.db import OperationalError, connection
from django.utils import timezone
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from shopfloor.days import shop_day
from shopfloor.models import Token, User
from shopfloor.patience import hardly_waiting
from shopfloor.planned import planned_cursor

KEYWORD = "Token"
PREFIX = "lureshop_"
ALPHABET = string.digits + string.ascii_uppercase + string.ascii_lowercase
RANDOM_LENGTH = 43  # of 62 characters: 256 bits. Nobody guesses one, so a fast hash keeps it safe
CHECK_LENGTH = 6  # what holds any CRC-32
HINT_LENGTH = 4
DAYS = 365
"""How long a token works when nothing else is said."""


def new_token_text() -> str:
    """A fresh token; only its digest is ever stored.

    `lureshop_`, 43 random characters and 6 that check them (CRC-32 in the same digits): a program
    that looks for secrets knows one when it sees it, and a text that only looks like one from one
    that is.
    """
    secret = "".join(secrets.choice(ALPHABET) for _ in range(RANDOM_LENGTH))
    return f"{PREFIX}{secret}{_check_of(secret)}"


def digest_of(token_text: str) -> str:
    """SHA-256, hex."""
    return hashlib.sha256(token_text.encode()).hexdigest()


def _check_of(secret: str) -> str:
    number, digits = zlib.crc32(secret.encode()), ""
    for _ in range(CHECK_LENGTH):
        number, digit = divmod(number, len(ALPHABET))
        digits = ALPHABET[digit] + digits
    return digits


# Asked at every request of a program; written out, it takes a tenth of the time. What else there
# is of a person is read when it is wanted.
_PERSON_FIELDS = (
    "id", "username", "display_name", "role", "is_active", "created_at", "blanked_at"
)  # fmt: skip
_SIGN_IN = """
    SELECT token.id, token.last_used_on,
        person.id, person.username, person.display_name, person.role, person.is_active,
        person.created_at, person.blanked_at
    FROM shopfloor_token token JOIN shopfloor_user person ON person.id = token.user_id
    WHERE token.digest = %s AND token.revoked_at IS NULL AND person.is_active
        AND (token.ends_on IS NULL OR token.ends_on >= %s)
"""


class TokenAuthentication(BaseAuthentication):
    """`Authorization: Token ...`; another scheme, or none, is left to whoever comes next."""

    def authenticate(self, request: Request) -> tuple[User, int] | None:
        """The person and the row id of the token. One statement.

        Raises:
            AuthenticationFailed: the token is malformed, unknown, revoked or past its end, or its
                person may not sign in; the answer does not say which.
        """
        keyword, *rest = get_authorization_header(request).split() or [b""]
        if keyword.lower() != KEYWORD.lower().encode():
            return None
        text = rest[0].decode("latin-1") if len(rest) == 1 else ""
        today = shop_day(timezone.now())
        with planned_cursor() as cursor:
            cursor.execute(_SIGN_IN, [digest_of(text), today.isoformat()])
            row = cursor.fetchone()
        if row is None:
            raise AuthenticationFailed(
                "This token is not known, has ended or was revoked. Ask for a new one."
            )
        token_id, last_used_on, *person = row
        if last_used_on != today:
            _mark_used(token_id, today)
        values = [_in_utc(value) for value in person]
        return User.from_db(connection.alias, _PERSON_FIELDS, values), token_id

    def authenticate_header(self, request: Request) -> str:
        """What makes the answer 401 and not 403."""
        return KEYWORD


def _in_utc(value: Any) -> Any:
    """SQLite keeps a moment in UTC and does not say so."""
    is_silent = isinstance(value, datetime) and value.tzinfo is None
    return value.replace(tzinfo=UTC) if is_silent else value


def _mark_used(token_id: int, today: date) -> None:
    """Once a day; never worth refusing a request for, so a database that is busy is let be."""
    with contextlib.suppress(OperationalError), hardly_waiting():
        Token.objects.filter(pk=token_id).update(last_used_on=today)
