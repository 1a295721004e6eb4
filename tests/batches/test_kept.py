"""A set-up that is kept comes back as it was, or is made anew."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import transaction

from inventory.catalog.models import Place
from inventory.catalog.operations import change_place, create_place
from shopfloor.models import User
from tests.batches import floor
from tests.kept import Kept


@pytest.fixture
def attic(lead: User) -> None:
    create_place(code="ATTIC", fields={"name": "Attic", "kind": "shelf"}, by=lead, at=floor.NOON)


class SetUp:
    """Places, and another name of one that stood before; made once, and gone again."""

    def __init__(self, by: User) -> None:
        self.times = 0
        self.kept = Kept(self._make)
        before = transaction.savepoint()
        self.kept(by=by)
        self.made = rows()
        transaction.savepoint_rollback(before)

    def _make(self, *, by: User) -> None:
        self.times += 1
        floor.enter_places(by=by)
        change_place(code="ATTIC", fields={"name": "Loft"}, by=by, at=floor.NOON)


def rows() -> list[dict[str, Any]]:
    return [{**row} for row in Place.objects.order_by("pk").values()]


@pytest.fixture
def set_up(attic: None, lead: User) -> SetUp:
    return SetUp(lead)


def test_it_comes_back_under_its_numbers_with_what_it_changed(set_up: SetUp, lead: User) -> None:
    assert [row["name"] for row in rows()] == ["Attic"]
    set_up.kept(by=lead)
    assert (rows(), set_up.times) == (set_up.made, 1)
    assert rows()[0]["name"] == "Loft"


def test_where_a_number_is_taken_it_is_made_anew(set_up: SetUp, lead: User) -> None:
    taken = set_up.made[-1]["id"]
    Place.objects.create(pk=taken, code="OTHER", name="Another", kind="shelf")
    set_up.kept(by=lead)
    assert {row["code"] for row in rows()} == {"ATTIC", "OTHER", *floor.PLACES}
    assert (Place.objects.get(pk=taken).code, set_up.times) == ("OTHER", 2)
