"""A prepared query answers what the plain one would, whatever is given and whoever asks."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection, transaction
from django.db.models import BooleanField, DateTimeField, QuerySet, TextField, Value

from shopfloor.models import Change, User
from shopfloor.operations import create_first_owner, create_person
from shopfloor.prepared import Given, Prepared
from shopfloor.roles import Role
from shopfloor.selectors import person_named
from tests.needs import need_threads
from tests.racing import at_once

NOON = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)


def people(since: datetime | Given, role: str | Given) -> QuerySet[User]:
    return User.objects.filter(created_at__gte=since, role=role).order_by("username")


people_asked = Prepared(lambda: people(Given("since", DateTimeField()), Given("role", TextField())))
columns_asked = Prepared(
    lambda: people(NOON, Given("role", TextField())).values_list("username", "created_at", Value(7))
)
mappings_asked = Prepared(
    lambda: people(NOON, Given("role", TextField())).values("username", "is_active")
)
changes_asked = Prepared(lambda: Change.objects.select_related("by").order_by("pk"))
locked_asked = Prepared(
    lambda: User.objects.select_for_update().filter(is_active=Given("active", BooleanField()))
)


@pytest.fixture
def olga(db: None) -> User:
    create_first_owner(username="olga", display_name="Olga", password=None, at=NOON)
    owner = person_named("olga")
    for number, name in enumerate(["vera", "vito"]):
        create_person(
            username=name,
            display_name=name.title(),
            role=Role.VIEWER,
            password=None,
            by=owner,
            at=NOON + timedelta(microseconds=number),
        )
    return owner


def test_it_answers_what_the_plain_query_would_for_any_values(olga: User) -> None:
    asked = [(NOON, "viewer"), (NOON + timedelta(microseconds=1), "viewer"), (NOON, "owner")]
    told = [people_asked(since=since, role=role) for since, role in asked]
    assert told == [list(people(since, role)) for since, role in asked]
    assert [[person.username for person in each] for each in told] == [
        ["vera", "vito"],
        ["vito"],
        ["olga"],
    ]
    assert told[0][0].created_at == NOON


def test_columns_and_mappings_have_the_values_of_python(olga: User) -> None:
    assert columns_asked(role="owner") == [("olga", NOON, 7)]
    assert mappings_asked(role="owner") == [{"username": "olga", "is_active": True}]


def test_what_a_row_points_at_comes_along(olga: User, django_assert_num_queries: object) -> None:
    with django_assert_num_queries(1):  # type: ignore[operator]  # pytest-django's
        changes = changes_asked()
        by = {change.by.username for change in changes}
    assert by == {"olga"}
    assert changes == list(Change.objects.order_by("pk"))


def test_rows_that_came_before_are_not_those_that_come_now(olga: User) -> None:
    before = people_asked(since=NOON, role="viewer")
    User.objects.filter(username="vera").update(display_name="Vera V.")
    assert people_asked(since=NOON, role="viewer")[0].display_name == "Vera V."
    assert before[0].display_name == "Vera"


@pytest.mark.django_db(transaction=True)
def test_a_lock_is_not_asked_for_outside_a_transaction(transactional_db: None) -> None:
    with transaction.atomic():
        assert locked_asked(active=True) == []
    with pytest.raises(AssertionError, match="transaction"):
        locked_asked(active=True)


@pytest.mark.django_db(transaction=True)
def test_each_thread_asks_on_its_own_connection(transactional_db: None) -> None:
    need_threads()
    create_first_owner(username="olga", display_name="Olga", password=None, at=NOON)

    def ask() -> object:
        return people_asked(since=NOON, role="owner")

    (owner,) = people_asked(since=NOON, role="owner")
    assert at_once(ask, ask, ask) == [[owner]] * 3
    connection.close()
    assert people_asked(since=NOON, role="owner") == [owner]
