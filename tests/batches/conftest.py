"""The floor that tests of `batches` stand on: people, places, stages, items, released bills."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from shopfloor.models import User
from shopfloor.roles import Role
from tests.batches import floor
from tests.kept import Kept

PLACES = Kept(floor.enter_places)
STAGES = Kept(floor.enter_stages)
ITEMS = Kept(floor.enter_items)
BILLS = Kept(floor.release_bills, first=floor.AS_DRAFT)


@pytest.fixture
def calling() -> Callable[[User], floor.Caller]:
    """`calling(lead).post("bills/", {...})`."""
    return floor.Caller


@pytest.fixture
def owner(db: None) -> User:
    return floor.enter_owner()


@pytest.fixture
def lead(owner: User) -> User:
    return floor.enter_person(Role.LEAD, by=owner)


@pytest.fixture
def bench(owner: User) -> User:
    """Somebody at the bench."""
    return floor.enter_person(Role.BENCH, by=owner)


@pytest.fixture
def packer(owner: User) -> User:
    return floor.enter_person(Role.PACKER, by=owner)


@pytest.fixture
def viewer(owner: User) -> User:
    return floor.enter_person(Role.VIEWER, by=owner)


@pytest.fixture
def places(lead: User) -> None:
    """The places of `floor.PLACES`."""
    PLACES(by=lead)


@pytest.fixture
def stages(places: None, lead: User) -> None:
    """The stages of `floor.STAGES`."""
    STAGES(by=lead)


@pytest.fixture
def items(places: None, lead: User) -> None:
    """Models, colorways and the items of `floor.BOUGHT` and `floor.MADE`, and mixed adhesive."""
    ITEMS(by=lead)


@pytest.fixture
def floor_ready(stages: None, items: None) -> None:
    """Stages and items, no bills yet."""


@pytest.fixture
def released_bills(floor_ready: None, lead: User) -> None:
    """The bills of `floor.BILLS`, revision 1 of each released."""
    BILLS(by=lead)
