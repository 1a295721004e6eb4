"""A shop with two kinds of lures on its shelf, a customer, and people who come in by token."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from rest_framework.test import APIClient

from batches.packing.models import Box, Complaint, Customer
from batches.packing.operations import (
    ComplaintDraft,
    LooseLot,
    Part,
    Price,
    close_box,
    complain,
    create_customer,
    pack_box,
    ship,
)
from batches.runs.models import ScrapReason
from batches.runs.operations import add_scrap_reason
from inventory.catalog.models import Item
from inventory.catalog.operations import create_colorway, create_item, create_model, create_place
from inventory.stock.models import Lot
from inventory.stock.operations import OpeningLot, take_in_opening_lots
from shopfloor.models import User
from shopfloor.operations import create_first_owner, create_person, issue_token
from shopfloor.roles import Role
from shopfloor.selectors import person_named
from shopfloor.stamp import Stamp

MONDAY = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)  # 9 in the morning at the shop
TUESDAY = MONDAY + timedelta(days=1)
LATER = MONDAY + timedelta(days=30)
SENT_ON = date(2026, 3, 3)  # the day of TUESDAY
NEXT_WEEK = SENT_ON + timedelta(days=7)

StockOf = Callable[..., Lot]
Enter = Callable[[Role], User]
ClientOf = Callable[[Role], APIClient]
Told = Callable[..., Complaint]


def stamp_at(by: User, at: datetime = TUESDAY, reason: str = "for the test") -> Stamp:
    return Stamp(by=by, at=at, now=LATER, reason=reason)


@pytest.fixture
def owner(db: None) -> User:
    create_first_owner(
        username="olga", display_name="Olga Owner", password="seven wet otters", at=MONDAY
    )
    return person_named("olga")


@pytest.fixture
def enter(owner: User) -> Enter:
    """Enters somebody of a role."""

    def person(role: Role) -> User:
        create_person(
            username=role.value,
            display_name=f"The {role.value}",
            role=role,
            password=None,
            by=owner,
            at=MONDAY,
        )
        return person_named(role.value)

    return person


@pytest.fixture
def client_of(enter: Enter) -> ClientOf:
    """A program that comes in as somebody of a role."""

    def client(role: Role) -> APIClient:
        person = enter(role)
        issued = issue_token(username=person.username, name="a test", by=person, at=MONDAY)
        return APIClient(headers={"Authorization": f"Token {issued.text}"})

    return client


@pytest.fixture
def packer(enter: Enter) -> User:
    return enter(Role.PACKER)


@pytest.fixture
def item_of(owner: User) -> Callable[..., Item]:
    """Enters an item kept on the shelf."""
    create_place(code="SHELF", fields={"name": "Shelf", "kind": "shelf"}, by=owner, at=MONDAY)
    create_place(code="RETURNS", fields={"name": "Returns", "kind": "shelf"}, by=owner, at=MONDAY)
    create_model(code="MINNOW-90", fields={"name": "Minnow 90"}, by=owner, at=MONDAY)
    create_colorway(code="TIGER", fields={"name": "Fire tiger"}, by=owner, at=MONDAY)

    def item(code: str, **fields: Any) -> Item:
        given = {
            "name": f"Lure {code}",
            "kind": "lure",
            "dimension": "count",
            "display_unit": "each",
            "storage_place": "SHELF",
            **fields,
        }
        return create_item(code=code, fields=given, by=owner, at=MONDAY)  # type: ignore[arg-type]

    return item


@pytest.fixture
def minnow(item_of: Callable[..., Item]) -> Item:
    return item_of("MINNOW", name="Minnow, fire tiger", model="MINNOW-90", colorway="TIGER")


@pytest.fixture
def frog(item_of: Callable[..., Item]) -> Item:
    return item_of("FROG")


@pytest.fixture
def stock_of(owner: User) -> StockOf:
    """Takes a lot in; a piece is worth 1.00 unless told otherwise."""

    def lot(item: Item, pieces: int, **given: Any) -> Lot:
        value_micro = given.pop("value_micro", pieces * 1_000_000)
        opening = OpeningLot(item_code=item.code, qty_base=pieces, value_micro=value_micro, **given)
        return take_in_opening_lots(lots=[opening], stamp=stamp_at(owner, MONDAY)).made[0]

    return lot


@pytest.fixture
def lot(stock_of: StockOf, minnow: Item) -> Lot:
    """A hundred minnows worth 1.00 each."""
    return stock_of(minnow, 100, lot_code="M1")


@pytest.fixture
def frogs(stock_of: StockOf, frog: Item) -> Lot:
    """Fifty frogs worth 1.00 each."""
    return stock_of(frog, 50, lot_code="F1")


@pytest.fixture
def customer(owner: User) -> Customer:
    return create_customer(code="HEN", name="A test customer", stamp=stamp_at(owner, MONDAY))


@pytest.fixture
def closed_box(packer: User) -> Callable[..., Box]:
    """Packs lots, given as code and pieces (None: all), and closes the box."""

    def box(*contents: tuple[str, int | None], **given: Any) -> Box:
        packed = pack_box(
            contents=[Part(lot_code, pieces) for lot_code, pieces in contents],
            stamp=stamp_at(packer),
            **given,
        )
        return close_box(box_code=packed.code, stamp=stamp_at(packer))

    return box


@pytest.fixture
def leak(owner: User) -> ScrapReason:
    """Two defects, the first of which is complained of unless told otherwise."""
    add_scrap_reason(code="PEEL", name="Paint peels", by=owner, at=MONDAY)
    return add_scrap_reason(code="LEAK", name="Leaks", by=owner, at=MONDAY)


@pytest.fixture
def told(leak: ScrapReason, packer: User) -> Told:
    """`told(lot_code="M1", pieces=3)`, a week after it was sent."""

    def write(**given: Any) -> Complaint:
        draft: Any = {"defect_code": leak.code, "pieces": 1, "told_on": NEXT_WEEK, **given}
        return complain(draft=ComplaintDraft(**draft), stamp=stamp_at(packer, LATER))

    return write


@pytest.fixture
def sent(customer: Customer, lot: Lot, packer: User) -> Lot:
    """Ten of the hundred minnows left as M1.1."""
    prices = [Price("MINNOW", 8_000_000)]
    lots = [LooseLot("M1", 10)]
    ship(customer_code="HEN", lots=lots, prices=prices, stamp=stamp_at(packer))
    return Lot.objects.get(code="M1.1")
