"""A request that is carried out once: its key, and the fingerprint that tells it from another."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from typing import Any, Final

from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict

from shopfloor.errors import ShopError
from shopfloor.operation import RequestToken

KEY_HEADER: Final = "Idempotency-Key"
KEY_FIELD: Final = "idempotency_key"
KEY_LENGTH_MAX: Final = 100

_FORM_ONLY = frozenset({KEY_FIELD, "csrfmiddlewaretoken"})
_SCRYPT_COST: Final = 2**14


class IdempotencyKeyMissingError(ShopError):
    """A write came without its key."""

    code = "idempotency_key_missing"


class IdempotencyKeyInvalidError(ShopError):
    """A key that cannot be kept: empty, too long, or not plain text."""

    code = "idempotency_key_invalid"


def request_token(
    *,
    user_id: int,
    key: str | None,
    method: str,
    path: str,
    body: Any,
    secret_fields: Iterable[str] = (),
) -> RequestToken:
    """The key a request came with and what it is for.

    Raises:
        IdempotencyKeyMissingError: no key.
        IdempotencyKeyInvalidError: not 1 to `KEY_LENGTH_MAX` printable ASCII characters.
    """
    key = _checked_key(key)
    plain = _plain(body)
    if isinstance(plain, dict):
        plain = {name: value for name, value in plain.items() if name not in _FORM_ONLY}
        for name in plain.keys() & set(secret_fields):
            plain[name] = _slow_hash(str(plain[name]), salt=f"{user_id}:{key}")
    canonical = json.dumps(plain, sort_keys=True, separators=(",", ":"))
    text = f"{method} {path}\n{canonical}"
    fingerprint = hashlib.sha256(text.encode()).hexdigest()
    return RequestToken(user_id=user_id, key=key, fingerprint=fingerprint)


def _checked_key(key: str | None) -> str:
    if key is None:
        raise IdempotencyKeyMissingError(
            f"Send {KEY_HEADER}: a new random text for each new write, the same when you try again."
        )
    key = key.strip()
    if not 1 <= len(key) <= KEY_LENGTH_MAX or not (key.isascii() and key.isprintable()):
        raise IdempotencyKeyInvalidError(
            f"{KEY_HEADER} is 1 to {KEY_LENGTH_MAX} printable ASCII characters.",
            length_max=KEY_LENGTH_MAX,
        )
    return key


def _plain(value: Any) -> Any:
    """The body as JSON has it; a file is its name and digest."""
    if isinstance(value, QueryDict):
        return {name: [_plain(item) for item in items] for name, items in value.lists()}
    if isinstance(value, Mapping):
        return {str(name): _plain(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, UploadedFile):
        digest = hashlib.sha256()
        for chunk in value.chunks():
            digest.update(chunk)
        value.seek(0)
        return {"file": value.name, "sha256": digest.hexdigest()}
    return value


def _slow_hash(text: str, *, salt: str) -> str:
    """Stands for a secret: a fingerprint is kept for good, and a fast hash of a password is one."""
    return hashlib.scrypt(text.encode(), salt=salt.encode(), n=_SCRYPT_COST, r=8, p=1).hex()
