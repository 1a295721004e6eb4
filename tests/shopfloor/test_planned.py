"""Statements whose words stay the same are planned once a connection."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from shopfloor.planned import planned_cursor

pytestmark = pytest.mark.django_db

WORDS = "SELECT id, CAST(%s AS bigint) FROM shopfloor_user WHERE id < %s AND last_login < %s"
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def _ask(number: int) -> None:
    with planned_cursor() as cursor:
        cursor.execute(WORDS, [number, number, NOON])
        cursor.fetchall()


@pytest.mark.only_on("postgresql")
def test_numbers_of_any_size_share_one_plan() -> None:
    for number in [1, 2**15, 2**31, 2**62, 5, 6, 7]:
        _ask(number)
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT generic_plans + custom_plans FROM pg_prepared_statements"
            " WHERE statement LIKE 'SELECT id, CAST(%%'"
        )
        assert cursor.fetchall() == [(2,)], "from the sixth asking on"


@pytest.mark.only_on("postgresql")
@pytest.mark.django_db(transaction=True)
def test_a_connection_that_broke_is_made_anew() -> None:
    _ask(1)
    kept: Any = connection
    kept.connection.close()  # as when the server started anew, between two requests
    kept.health_check_enabled, kept.health_check_done = True, False
    _ask(1)
    assert kept.is_usable()


def test_a_log_of_statements_has_their_values() -> None:
    with CaptureQueriesContext(connection) as log:
        _ask(7)
    (asked,) = log.captured_queries
    assert "CAST(7 AS bigint)" in asked["sql"]


def test_it_answers_as_any_cursor() -> None:
    with planned_cursor() as ours, connection.cursor() as plain:
        for cursor in (ours, plain):
            cursor.execute("SELECT CAST(%s AS bigint), CAST(%s AS varchar(9))", [2**40, "a'b%"])
        assert ours.fetchall() == plain.fetchall() == [(2**40, "a'b%")]
