"""The one way to write: an operation is one business event in one durable transaction.

A program that sends the same request twice gets the first answer twice: the request's key is the
first row of the transaction and its answer the last, so key and effect stand or fall together.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from threading import RLock
from typing import Any, Generic, ParamSpec, TypeVar

from django.db import IntegrityError, OperationalError, connection, transaction
from django.utils import timezone

from shopfloor.errors import InvalidInputError
from shopfloor.models import RequestKey
from shopfloor.planned import planned_cursor

P = ParamSpec("P")
R = TypeVar("R")

# PostgreSQL names the loser of a race: of a serialization conflict, of a deadlock, or of two who
# wrote the same code at once. Nothing of it was written, so it may try again; of two codes alike
# it then sees the other and refuses in words.
RETRY_SQLSTATES = frozenset({"40001", "40P01", "23505"})
TRIES = 3

TURN_SECONDS_MAX = 2
_writing = RLock()


class KeyReusedError(InvalidInputError):
    """The same key came with another body."""

    code = "idempotency_key_reused"


@dataclass(frozen=True, slots=True)
class RequestToken:
    """Who sends what under which key.

    Attributes:
        user_id: The scope of the key.
        key: What the caller sent as `Idempotency-Key`.
        fingerprint: SHA-256 (hex) of method, address and body.
    """

    user_id: int
    key: str
    fingerprint: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What a program gets back, now and whenever it sends the same key again."""

    status: int
    body: Any


class Operation(Generic[P, R]):
    """A function that runs in one durable transaction, once a request key if it has one."""

    def __init__(self, function: Callable[P, R]) -> None:
        self._function = function
        functools.update_wrapper(self, function)

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R:
        """Run it once, with no key: for commands, pages that redirect, and tests."""
        return _in_transaction(lambda: self._function(*args, **kwargs))

    def answering(
        self, token: RequestToken, render: Callable[[R], Any], *, status: int = 201
    ) -> Callable[P, Answer]:
        """The same operation, answering a request that carries a key.

        Args:
            token: The request's key; a key seen before gets its first answer and changes nothing.
            render: Makes the JSON body out of the result, inside the transaction.
            status: HTTP status of a first success.

        Raises:
            KeyReusedError: the key was used before with another body.
        """

        def once(*args: P.args, **kwargs: P.kwargs) -> Answer:
            def run() -> Answer:
                row_id = _claim(token)
                if row_id is None:
                    return _first_answer(token)
                body = render(self._function(*args, **kwargs))
                _keep_answer(row_id, status, body)
                return Answer(status=status, body=body)

            return _in_transaction(run)

        return once


def operation(function: Callable[P, R]) -> Operation[P, R]:
    """Mark a public function of `operations.py`: one business event, one transaction."""
    return Operation(function)


def answered(token: RequestToken) -> Answer | None:
    """What a request that was carried out before got; none if it was not. At most one statement.

    For a door that looks at something first, which may have changed since.

    Raises:
        KeyReusedError: the key was used before with another body.
    """
    first = RequestKey.objects.filter(user_id=token.user_id, key=token.key).first()
    return None if first is None else _answer_of(first, token)


def _in_transaction(run: Callable[[], R]) -> R:
    for left in reversed(range(TRIES)):
        try:
            with _turn(), transaction.atomic(durable=True):
                return run()
        except (OperationalError, IntegrityError) as error:
            if left == 0 or getattr(error.__cause__, "sqlstate", None) not in RETRY_SQLSTATES:
                raise
    raise AssertionError("unreachable: the last try returns or raises")


@contextmanager
def _turn() -> Iterator[None]:
    """On SQLite, which has one writer at a time, let those of this process queue.

    Who waits for the file itself asks again and again, and of eight writers one may starve for
    seconds. Whoever waited here too long asks the file after all: a writer there may be another
    process, and the time-out for it is the driver's.
    """
    is_mine = connection.vendor == "sqlite" and _writing.acquire(timeout=TURN_SECONDS_MAX)
    try:
        yield
    finally:
        if is_mine:
            _writing.release()


def _claim(token: RequestToken) -> int | None:
    """Insert the key.

    `None` when it stands already. A twin in flight makes this wait for its end.
    """
    table = connection.ops.quote_name(RequestKey._meta.db_table)
    with planned_cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {table} (user_id, key, fingerprint, created_at) VALUES (%s, %s, %s, %s)"  # noqa: S608 - our own table name
            " ON CONFLICT (user_id, key) DO NOTHING RETURNING id",
            [
                token.user_id,
                token.key,
                token.fingerprint,
                connection.ops.adapt_datetimefield_value(timezone.now()),
            ],
        )
        row = cursor.fetchone()
    return None if row is None else int(row[0])


def _keep_answer(row_id: int, status: int, body: Any) -> None:
    """Beside its key. In plain SQL, as the key: everybody who writes waits for it."""
    table = connection.ops.quote_name(RequestKey._meta.db_table)
    field = RequestKey._meta.get_field("answer")
    with planned_cursor() as cursor:
        cursor.execute(
            f"UPDATE {table} SET status = %s, answer = %s WHERE id = %s",  # noqa: S608 - our own table name
            [status, field.get_db_prep_save(body, connection), row_id],
        )


def _first_answer(token: RequestToken) -> Answer:
    return _answer_of(RequestKey.objects.get(user_id=token.user_id, key=token.key), token)


def _answer_of(first: RequestKey, token: RequestToken) -> Answer:
    if first.fingerprint != token.fingerprint:
        raise KeyReusedError(
            "This Idempotency-Key was used before for another request. Send a new key for a new "
            "request.",
            key=token.key,
        )
    assert first.status is not None, "a committed key always has its answer"
    return Answer(status=first.status, body=first.answer)
