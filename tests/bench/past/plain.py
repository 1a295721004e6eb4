"""A plain ledger: lots received and used up bit by bit, and nothing else. Five million movements.

Each lot has fifty movements, each posting that takes has ten.
"""

from __future__ import annotations

from datetime import datetime
from random import Random
from typing import Final

from django.utils import timezone

from inventory.catalog.models import Item, Place
from inventory.catalog.operations import create_item, create_place
from shopfloor.models import User
from shopfloor.operations import create_first_owner
from tests.bench.past.ledger import Held, Ledger
from tests.bench.past.writing import loading

LOTS_OF_A_RECEIPT: Final = 1000
LOTS_OF_A_TAKE: Final = 10
TAKES_OF_A_LOT: Final = 49
MOVEMENTS_OF_A_RECEIPT: Final = LOTS_OF_A_RECEIPT * (1 + TAKES_OF_A_LOT)
LOT_BASE: Final = 1000
TAKE_BASE: Final = 20
A_WHILE: Final = 60  # seconds between two postings


def fill_plain(*, movements: int, last_day: datetime, seed: int = 1) -> None:
    """Fill a migrated, empty database with so many movements, in whole receipts."""
    item_id, place_id, by_id = _enter_one_item()
    receipts = movements // MOVEMENTS_OF_A_RECEIPT
    postings = receipts * (1 + LOTS_OF_A_RECEIPT * TAKES_OF_A_LOT // LOTS_OF_A_TAKE)
    random = Random(seed)  # noqa: S311 - not a secret
    with loading() as writer:
        ledger = Ledger(writer, random, now=int(last_day.timestamp()) - postings * A_WHILE)
        for _ in range(receipts):
            lots = [
                Held(
                    item_id=item_id, place_id=place_id, qty=LOT_BASE, value=random.randint(1, 10**9)
                )
                for _ in range(LOTS_OF_A_RECEIPT)
            ]
            ledger.post("received", makes=lots, by_id=by_id, outside_kind="purchase")
            for _ in range(TAKES_OF_A_LOT):
                random.shuffle(lots)
                for first in range(0, LOTS_OF_A_RECEIPT, LOTS_OF_A_TAKE):
                    ledger.now += A_WHILE
                    some = lots[first : first + LOTS_OF_A_TAKE]
                    ledger.post(
                        "disposed",
                        changes=[ledger.take(lot, TAKE_BASE) for lot in some],
                        by_id=by_id,
                        outside_kind="loss",
                    )
        ledger.write_rest()


def _enter_one_item() -> tuple[int, int, int]:
    now = timezone.now()
    create_first_owner(username="owner", display_name="The owner", password=None, at=now)
    owner = User.objects.get()
    create_place(code="SHELF", fields={"name": "Shelf", "kind": "shelf"}, by=owner, at=now)
    create_item(
        code="RING",
        fields={
            "name": "Ring",
            "kind": "split_ring",
            "dimension": "count",
            "display_unit": "each",
            "storage_place": "SHELF",
        },
        by=owner,
        at=now,
    )
    return Item.objects.get().pk, Place.objects.get().pk, owner.pk
