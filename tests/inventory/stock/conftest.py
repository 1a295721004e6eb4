"""A shelf of hooks and a bottle of adhesive, taken in through the ledger."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from inventory.catalog.models import Item, Place
from inventory.stock.models import Lot
from inventory.stock.operations import OpeningLot, take_in_opening_lots
from shopfloor.models import User
from shopfloor.stamp import Stamp

NOON = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)  # noon of a Monday at the shop, in US Central time
LATER = NOON + timedelta(days=30)


def stamp_at(by: User, at: datetime, reason: str = "for the test") -> Stamp:
    return Stamp(by=by, at=at, now=LATER, reason=reason)


@pytest.fixture
def shelf(db: None) -> Place:
    return Place.objects.create(code="SHELF-A", name="Shelf A", kind="shelf")


@pytest.fixture
def bench(db: None) -> Place:
    return Place.objects.create(code="BENCH", name="Gluing bench", kind="bench")


@pytest.fixture
def hook(shelf: Place) -> Item:
    return Item.objects.create(
        code="HOOK-6",
        name="Treble hook",
        kind="hook",
        dimension="count",
        display_unit="each",
        storage_place=shelf,
    )


@pytest.fixture
def adhesive(shelf: Place) -> Item:
    return Item.objects.create(
        code="ADH",
        name="Adhesive",
        kind="adhesive",
        dimension="mass",
        display_unit="g",
        storage_place=shelf,
        opened_life_minutes=60,
    )


@pytest.fixture
def lot_of_500_hooks(hook: Item, lead: User) -> Lot:
    """Worth 10.00, so that a hook is worth 2 cents exactly."""
    return take_in_opening_lots(
        lots=[OpeningLot(item_code=hook.code, qty_base=500, value_micro=10_000_000)],
        stamp=stamp_at(lead, NOON),
    ).made[0]
