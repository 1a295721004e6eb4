"""Reads that see one moment while somebody writes."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.db import DatabaseError, connection, transaction

from shopfloor.models import User
from shopfloor.operations import create_first_owner, create_person
from shopfloor.roles import Role
from shopfloor.selectors import person_named
from shopfloor.snapshot import snapshot
from tests.needs import need_threads
from tests.racing import at_once

NOON = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)


def enter(username: str, owner: User) -> object:
    return create_person(
        username=username, display_name="P", role=Role.VIEWER, password=None, by=owner, at=NOON
    )


@pytest.fixture
def olga(transactional_db: None) -> User:
    create_first_owner(username="olga", display_name="Olga", password=None, at=NOON)
    return person_named("olga")


def test_what_is_written_meanwhile_is_seen_afterwards_and_nobody_waits(olga: User) -> None:
    need_threads()
    with snapshot():
        before = User.objects.count()
        at_once(lambda: enter("vera", olga), lambda: enter("vito", olga))
        assert User.objects.count() == before
    assert User.objects.count() == before + 2


def test_it_leaves_the_way_of_writing_as_it_was(olga: User) -> None:
    with pytest.raises(ZeroDivisionError), snapshot():
        raise ZeroDivisionError
    with snapshot():
        assert User.objects.count() == 1
    enter("vera", olga)
    assert User.objects.count() == 2
    assert not connection.in_atomic_block


@pytest.mark.only_on("postgresql")
def test_nothing_is_written_in_it(olga: User) -> None:
    with pytest.raises(DatabaseError), snapshot():
        User.objects.update(display_name="X")
    assert person_named("olga").display_name == "Olga"


@pytest.mark.django_db
def test_inside_a_transaction_it_is_that_of_the_transaction() -> None:
    with transaction.atomic():
        create_first_owner.__wrapped__(  # type: ignore[attr-defined]
            username="olga", display_name="Olga", password=None, at=NOON
        )
        with snapshot():
            assert User.objects.count() == 1
