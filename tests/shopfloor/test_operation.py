"""One operation is one transaction, once a key: all of it stands, or nothing."""

from __future__ import annotations

import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from threading import Event, Thread

import pytest
from django.db import DatabaseError, IntegrityError, OperationalError, transaction

from shopfloor import operation as operation_module
from shopfloor.errors import ConflictError
from shopfloor.models import Change, RequestKey, User
from shopfloor.operation import TRIES, Answer, KeyReusedError, RequestToken, operation
from tests.shopfloor.conftest import MONDAY


class LostRaceError(Exception):
    """What a driver says when the database chose this transaction to give way."""

    def __init__(self, sqlstate: str) -> None:
        super().__init__(sqlstate)
        self.sqlstate = sqlstate


UNIQUE_VIOLATION = "23505"


def failure(state: str) -> DatabaseError:
    """As Django wraps what the driver says."""
    kind = IntegrityError if state.startswith("23") else OperationalError
    wrapped = kind(state)
    wrapped.__cause__ = LostRaceError(state)
    return wrapped


@operation
def note(*, word: str, by: User, losing: Iterator[str] | None = None) -> Change:
    """Write a word down; lose as many races as there are states in `losing`."""
    change = Change.objects.create(at=MONDAY, by=by, table="words", row_code=word, after={})
    if word == "refused":
        raise ConflictError("No such word.")
    for state in losing or ():
        raise failure(state)
    return change


def words() -> list[str]:
    return list(Change.objects.filter(table="words").values_list("row_code", flat=True))


def token(by: User, *, key: str = "k", fingerprint: str = "f") -> RequestToken:
    return RequestToken(user_id=by.pk, key=key, fingerprint=fingerprint)


def test_what_is_refused_writes_nothing(owner: User) -> None:
    with pytest.raises(ConflictError):
        note(word="refused", by=owner)
    assert words() == []


@pytest.mark.django_db(transaction=True)
def test_an_operation_is_never_part_of_another_transaction(owner: User) -> None:
    with pytest.raises(RuntimeError, match="durable"), transaction.atomic():
        note(word="inner", by=owner)
    assert words() == []


def test_a_key_seen_before_gets_the_first_answer_and_changes_nothing(owner: User) -> None:
    asked = note.answering(token(owner), lambda change: {"number": change.pk}, status=202)
    first = asked(word="once", by=owner)
    assert first == Answer(202, {"number": Change.objects.get(table="words").pk})
    again = note.answering(token(owner), lambda _: {"number": "another"}, status=500)
    assert again(word="twice", by=owner) == first
    assert words() == ["once"]


def test_a_key_seen_before_with_another_body_is_refused(owner: User) -> None:
    note.answering(token(owner), lambda _: None)(word="once", by=owner)
    other = note.answering(token(owner, fingerprint="g"), lambda _: None)
    with pytest.raises(KeyReusedError) as refused:
        other(word="twice", by=owner)
    assert refused.value.facts == {"key": "k"}
    assert (words(), RequestKey.objects.count()) == (["once"], 1)


def test_two_people_may_send_the_same_key(owner: User) -> None:
    other = User.objects.create(username="bea", display_name="Bea", role="bench", created_at=MONDAY)
    note.answering(token(owner), lambda _: None)(word="hers", by=owner)
    note.answering(token(other), lambda _: None)(word="his", by=other)
    assert words() == ["hers", "his"]


def test_a_refusal_does_not_keep_its_key(owner: User) -> None:
    asked = note.answering(token(owner), lambda _: "done")
    with pytest.raises(ConflictError):
        asked(word="refused", by=owner)
    assert not RequestKey.objects.exists()
    assert asked(word="right", by=owner) == Answer(201, "done")


def test_an_answer_that_cannot_be_made_undoes_what_was_done(owner: User) -> None:
    def render(change: Change) -> str:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        note.answering(token(owner), render)(word="half", by=owner)
    assert (words(), RequestKey.objects.count()) == ([], 0)


def test_an_answer_of_nothing_is_kept_too(owner: User) -> None:
    asked = note.answering(token(owner), lambda _: None, status=204)
    assert asked(word="once", by=owner) == Answer(204, None)
    assert asked(word="twice", by=owner) == Answer(204, None)
    assert words() == ["once"]


@pytest.mark.parametrize("state", ["40001", "40P01", UNIQUE_VIOLATION])
def test_who_lost_a_race_tries_again_and_leaves_no_trace_of_it(owner: User, state: str) -> None:
    losing = iter([state] * (TRIES - 1))
    asked = note.answering(token(owner), lambda change: change.row_code)
    assert asked(word="third time", by=owner, losing=losing) == Answer(201, "third time")
    assert (words(), RequestKey.objects.count()) == (["third time"], 1)


def test_who_lost_every_race_is_told_and_nothing_is_written(owner: User) -> None:
    losing = iter(["40P01"] * TRIES)
    with pytest.raises(OperationalError):
        note.answering(token(owner), lambda _: None)(word="never", by=owner, losing=losing)
    assert list(losing) == []
    assert (words(), RequestKey.objects.count()) == ([], 0)


def test_a_row_that_still_stands_twice_at_the_last_try_is_a_fault(owner: User) -> None:
    losing = iter([UNIQUE_VIOLATION] * TRIES)
    with pytest.raises(IntegrityError):
        note(word="never", by=owner, losing=losing)
    assert (list(losing), words()) == ([], [])


@pytest.mark.parametrize("state", ["57P01", "23514"])  # the server ends; a check that is broken
def test_another_failure_of_the_database_is_not_tried_again(owner: User, state: str) -> None:
    losing = iter([state, state])
    with pytest.raises(DatabaseError):
        note(word="never", by=owner, losing=losing)
    assert list(losing) == [state]
    assert words() == []


def written_elsewhere(*, seconds: float) -> Event:
    """Another thread of this process writes for so long; set at its end, before its turn ends."""
    is_writing, is_over = Event(), Event()

    def write() -> None:
        with operation_module._turn():
            is_writing.set()
            time.sleep(seconds)
            is_over.set()

    Thread(target=write).start()
    assert is_writing.wait(5)
    return is_over


@pytest.mark.only_on("sqlite")
def test_writers_of_one_process_queue(owner: User) -> None:
    other = written_elsewhere(seconds=0.2)
    note(word="second", by=owner)
    assert other.is_set()


@pytest.mark.only_on("sqlite")
def test_who_queued_too_long_asks_the_file(owner: User, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(operation_module, "TURN_SECONDS_MAX", 0.05)
    other = written_elsewhere(seconds=0.5)
    note(word="all the same", by=owner)
    assert not other.is_set()
    assert other.wait(5)


@pytest.mark.only_on("sqlite")
def test_a_refusal_gives_the_turn_on(owner: User) -> None:
    def is_free() -> bool:
        is_mine = operation_module._writing.acquire(blocking=False)
        if is_mine:
            operation_module._writing.release()
        return is_mine

    with pytest.raises(ConflictError):
        note(word="refused", by=owner)
    with ThreadPoolExecutor(1) as other:
        assert other.submit(is_free).result()
