"""Rows written at once stand as `bulk_create` would have written them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from shopfloor import inserted
from shopfloor.inserted import insert
from shopfloor.models import RequestKey, User
from shopfloor.roles import Role

NOON = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)


def person(number: int) -> User:
    return User(
        username=f"vera-{number}",
        display_name=f"Véra {number}",
        role=Role.VIEWER,
        created_at=NOON + timedelta(microseconds=number),
        is_active=number % 2 == 0,
    )


def columns(row: User) -> dict[str, object]:
    return {field.attname: getattr(row, field.attname) for field in User._meta.concrete_fields}


def test_rows_and_keys_are_those_of_bulk_create(db: None) -> None:
    ours = insert([person(number) for number in range(5)])
    stand = {row.pk: row for row in User.objects.all()}
    assert [columns(row) for row in ours] == [columns(stand[row.pk]) for row in ours]
    (theirs,) = User.objects.bulk_create([person(9)])
    assert columns(User.objects.get(pk=theirs.pk)).keys() == columns(stand[ours[0].pk]).keys()
    assert ours[0]._state.adding is False
    ours[0].display_name = "Vera Z."
    ours[0].save()
    assert User.objects.get(username="vera-0").display_name == "Vera Z."


def test_more_rows_than_a_statement_takes(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(inserted, "PARAMETERS_MAX", 3 * len(User._meta.concrete_fields))
    rows = insert([person(number) for number in range(8)])
    assert [
        row.username for row in User.objects.filter(pk__in=[r.pk for r in rows]).order_by("pk")
    ] == [f"vera-{number}" for number in range(8)]


def test_the_table_still_refuses(db: None) -> None:
    insert([person(1)])
    with pytest.raises(IntegrityError), transaction.atomic():
        insert([person(2), person(1)])
    assert not User.objects.filter(username="vera-2").exists()


def test_json_and_absent_values_are_adapted(db: None) -> None:
    (by,) = insert([person(1)])
    key = RequestKey(user=by, key="k", fingerprint="0" * 64, created_at=NOON, answer={"a": [1]})
    insert([key])
    stands = RequestKey.objects.get()
    assert (stands.answer, stands.status, stands.created_at) == ({"a": [1]}, None, NOON)


def test_none_is_nothing(db: None, django_assert_num_queries: object) -> None:
    with django_assert_num_queries(0):  # type: ignore[operator]  # pytest-django's
        assert insert([]) == []
