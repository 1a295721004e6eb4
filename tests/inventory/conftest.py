"""People of every role, places, items, a supplier and its offer, made as the shop makes them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from rest_framework.test import APIClient

from inventory.catalog.models import Item, Offer, Place, Supplier
from inventory.catalog.operations import create_item, create_offer, create_place, create_supplier
from inventory.catalog.steps import PriceBreak
from shopfloor.fields import Amount
from shopfloor.models import User
from shopfloor.operations import create_first_owner, create_person
from shopfloor.roles import Role
from shopfloor.stamp import Stamp

NOON = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
"""Noon of a Monday at the shop, in US Central time."""

LATER = NOON + timedelta(days=30)

API = "/api/v1/"


def stamp_at(by: User, at: datetime = NOON, *, reason: str = "", now: datetime = LATER) -> Stamp:
    """Who, when and why; written down a month after noon."""
    return Stamp(by=by, at=at, now=now, reason=reason)


class Caller:
    """Asks the API as one person, with a new key for each write unless told which."""

    def __init__(self, person: User) -> None:
        self.client = APIClient()
        self.client.force_authenticate(person)

    def get(self, path: str, **query: Any) -> Any:
        """Ask for what is at `/api/v1/` and the path."""
        return self.client.get(API + path, query)

    def post(self, path: str, body: Any, *, key: str | None = None) -> Any:
        """Send a write."""
        headers = {"Idempotency-Key": key or uuid4().hex}
        return self.client.post(API + path, body, format="json", headers=headers)


@pytest.fixture
def calling() -> Callable[[User], Caller]:
    """`calling(lead).post("items/", {...})`."""
    return Caller


@pytest.fixture
def owner(db: None) -> User:
    create_first_owner(username="owner", display_name="The owner", password=None, at=NOON)
    return User.objects.get(username="owner")


def person_of(role: Role, by: User) -> User:
    name = str(role)
    create_person(
        username=name, display_name=f"The {name}", role=role, password=None, by=by, at=NOON
    )
    return User.objects.get(username=name)


@pytest.fixture
def lead(owner: User) -> User:
    return person_of(Role.LEAD, owner)


@pytest.fixture
def desk(lead: User) -> Client:
    """A browser in which the lead is signed in."""
    client = Client()
    client.force_login(lead)
    return client


@pytest.fixture
def molder(owner: User) -> User:
    """Somebody at the bench."""
    return person_of(Role.BENCH, owner)


@pytest.fixture
def packer(owner: User) -> User:
    return person_of(Role.PACKER, owner)


@pytest.fixture
def viewer(owner: User) -> User:
    return person_of(Role.VIEWER, owner)


@pytest.fixture
def shelf(lead: User) -> Place:
    fields: Any = {"name": "Shelf A", "kind": "shelf"}
    return create_place(code="SHELF-A", fields=fields, by=lead, at=NOON)


@pytest.fixture
def incoming(lead: User) -> Place:
    """Where goods wait for their test."""
    fields: Any = {"name": "Incoming goods", "kind": "shelf"}
    return create_place(code="INCOMING", fields=fields, by=lead, at=NOON)


@pytest.fixture
def hook(shelf: Place, lead: User) -> Item:
    """Kept in pieces of 350 mg."""
    return create_item(
        code="HOOK-6",
        fields={
            "name": "Treble hook, size 6",
            "kind": "hook",
            "dimension": "count",
            "display_unit": "each",
            "piece_mass_mg": Decimal(350),
            "storage_place": "SHELF-A",
        },
        by=lead,
        at=NOON,
    )


@pytest.fixture
def resin(shelf: Place, lead: User) -> Item:
    """Kept by weight, shown in pounds."""
    return create_item(
        code="RESIN",
        fields={
            "name": "Resin, natural",
            "kind": "resin",
            "dimension": "mass",
            "display_unit": "lb",
            "storage_place": "SHELF-A",
        },
        by=lead,
        at=NOON,
    )


@pytest.fixture
def paint(shelf: Place, lead: User) -> Item:
    """Kept by volume, 1.25 g a milliliter, 180 days, tested before use."""
    return create_item(
        code="PAINT-RED",
        fields={
            "name": "Paint, red",
            "kind": "paint",
            "dimension": "volume",
            "display_unit": "mL",
            "density_mg_per_ul": Decimal("1.25"),
            "shelf_life_days": 180,
            "arrives": "quarantined",
            "storage_place": "SHELF-A",
        },
        by=lead,
        at=NOON,
    )


@pytest.fixture
def supplier(lead: User) -> Supplier:
    return create_supplier(code="HOOKS", fields={"name": "The hook supplier"}, by=lead, at=NOON)


@pytest.fixture
def hook_offer(supplier: Supplier, hook: Item, lead: User) -> Offer:
    """A thousand hooks for 45.00, from five packs on for 40.00; ten weeks."""
    return create_offer(
        supplier_code=supplier.code,
        item_code=hook.code,
        pack=Amount(Decimal(1000), "each"),
        fields={
            "packs_min": 1,
            "lead_time_days": 70,
            "is_preferred": True,
            "prices": [PriceBreak(1, 45_000_000), PriceBreak(5, 40_000_000)],
        },
        by=lead,
        at=NOON,
    )
