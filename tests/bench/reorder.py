"""The reorder list of 2,000 items with two years of history, held against three seconds."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Final

import numpy as np
from django.utils import timezone

from inventory.catalog.models import Item, Offer, OfferPrice, Place, Supplier
from inventory.reorder.selectors import reorder_list
from inventory.stock.models import Lot, Movement, Posting, PostingKind
from shopfloor.days import shop_day
from shopfloor.models import User
from shopfloor.statistics import look_over
from tests.batches.floor import enter_owner
from tests.bench.figures import Figure, seconds

ITEMS: Final = 2_000
DAYS: Final = 730
POSTINGS_A_DAY: Final = 10
USED_A_POSTING: Final = 25
LIMIT_SECONDS: Final = 3.0
SEED: Final = 6


def rows() -> Iterator[Figure]:
    """The list as the door has it, without its words."""
    _fill()
    found = reorder_list(on=shop_day(timezone.now()))
    ours = [row for row in found if row.item.code.startswith("RO-")]
    assert len(ours) == ITEMS
    assert sum(row.inputs.forecast is not None for row in ours) > ITEMS * 0.9
    took = seconds(lambda: reorder_list(on=shop_day(timezone.now())), times=3)
    moved = DAYS * POSTINGS_A_DAY * USED_A_POSTING
    what = f"reorder list, {ITEMS} items, two years, {moved} uses"
    yield Figure(what, took, LIMIT_SECONDS, 1.0)


def _fill() -> None:
    """One lot an item, used up bit by bit: every posting uses some items, some far more often."""
    now = timezone.now()
    began = now - timedelta(days=DAYS + 1)
    rng = np.random.default_rng(SEED)
    by = User.objects.order_by("pk").first() or enter_owner()
    place = Place.objects.create(code="RO-SHELF", name="Shelf", kind="shelf")
    supplier = Supplier.objects.create(code="RO-SUPPLIER", name="Supplier")
    items = Item.objects.bulk_create(
        Item(code=f"RO-{n}", name=f"Item {n}", kind="other", dimension="count", display_unit="each")
        for n in range(ITEMS)
    )
    offers = Offer.objects.bulk_create(
        Offer(supplier=supplier, item=item, pack_base=100, packs_min=1, lead_time_days=28)
        for item in items
    )
    OfferPrice.objects.bulk_create(
        OfferPrice(offer=offer, packs_from=1, pack_price_micro=5_000_000) for offer in offers
    )
    lots = Lot.objects.bulk_create(
        Lot(
            code=f"RO-LOT-{n}",
            item=item,
            place=place,
            born_at=began,
            touched_at=now,
            on_hand_base=500,
            value_micro=0,
        )
        for n, item in enumerate(items)
    )
    often = 1 / np.arange(1, ITEMS + 1) ** 0.5
    postings = Posting.objects.bulk_create(
        Posting(
            kind=PostingKind.MADE,
            at=began + timedelta(days=1 + day, minutes=number),
            recorded_at=now,
            by=by,
        )
        for day in range(DAYS)
        for number in range(POSTINGS_A_DAY)
    )
    Movement.objects.bulk_create(
        (
            Movement(
                posting=posting, lot=lots[n], qty_base=-int(rng.integers(1, 40)), value_micro=0
            )
            for posting in postings
            for n in rng.choice(ITEMS, USED_A_POSTING, replace=False, p=often / often.sum())
        ),
        batch_size=5_000,
    )
    look_over([model._meta.db_table for model in (Lot, Posting, Movement)])
