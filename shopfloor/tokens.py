"""Tokens of programs: how one is made, kept and recognized. Issuing and revoking are operations."""

from __future__ import annotations

import hashlib
import secrets

from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from shopfloor.models import Token, User

KEYWORD = "Token"
RANDOM_BYTES = 32  # 256 bits: nobody guesses one, so a fast hash keeps it safe


def new_token_text() -> str:
    """A fresh token; only its digest is ever stored."""
    return secrets.token_urlsafe(RANDOM_BYTES)


def digest_of(token_text: str) -> str:
    """SHA-256, hex."""
    return hashlib.sha256(token_text.encode()).hexdigest()


class TokenAuthentication(BaseAuthentication):
    """`Authorization: Token ...`; another scheme, or none, is left to whoever comes next."""

    def authenticate(self, request: Request) -> tuple[User, Token] | None:
        """The person and the token.

        Raises:
            AuthenticationFailed: the token is malformed, unknown, revoked, or its person may not
                sign in; the answer does not say which.
        """
        keyword, *rest = get_authorization_header(request).split() or [b""]
        if keyword.lower() != KEYWORD.lower().encode():
            return None
        text = rest[0].decode("latin-1") if len(rest) == 1 else ""
        token = (
            Token.objects.select_related("user")
            .filter(digest=digest_of(text), revoked_at__isnull=True, user__is_active=True)
            .first()
        )
        if token is None:
            raise AuthenticationFailed("This token is not known or was revoked. Ask for a new one.")
        return token.user, token

    def authenticate_header(self, request: Request) -> str:
        """What makes the answer 401 and not 403."""
        return KEYWORD
