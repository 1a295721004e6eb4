"""Which items are bought, from whom, and how long that takes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from operator import attrgetter
from typing import Any, Final

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from inventory.catalog.models import Item, Offer, Supplier
from inventory.catalog.rules import pack_price_micro
from inventory.purchasing.selectors import LeadTime
from inventory.reorder.rules import PriceBreak

LEAD_TIMES_KEPT: Final = 24
"""The latest order lines tell how long it takes; common practice, no source."""


@dataclass(frozen=True, slots=True)
class UsedOffer:
    """The offer an item would be ordered by.

    Attributes:
        lead_time_days: As quoted; None when the supplier says nothing.
        price_breaks: Ascending; empty without a price.
    """

    supplier: Supplier
    supplier_item_number: str
    pack_base: int
    packs_min: int
    lead_time_days: int | None
    is_preferred: bool
    price_breaks: tuple[PriceBreak, ...]

    def pack_price_micro(self, packs: int) -> int | None:
        """Price of one pack when so many are ordered; None when there is none."""
        return pack_price_micro(packs, self.price_breaks)


def items() -> QuerySet[Item]:
    """Items with their policy."""
    return Item.objects.select_related("reorder_policy")


def watched_items() -> QuerySet[Item]:
    """Items in use that somebody offers or that have a policy, unless it says not to watch."""
    offered = Offer.objects.filter(item=OuterRef("pk"), is_active=True)
    return (
        items()
        .filter(is_active=True)
        .filter(
            Q(reorder_policy__is_watched=True) | (Q(reorder_policy__isnull=True) & Exists(offered))
        )
        .order_by("code")
    )


def is_watched() -> Exists:
    """An annotation of items: whether they are among those watched."""
    return Exists(watched_items().filter(pk=OuterRef("pk")))


def offers_used(item_ids: Sequence[int]) -> dict[int, UsedOffer]:
    """The offer each item would be ordered by, by item id; items without one are left out.

    The preferred one; else the cheapest for a base unit at its smallest order, then one without a
    price. Only offers in use of suppliers in use. One statement.
    """
    rows = (
        Offer.objects.filter(item__in=item_ids, is_active=True, supplier__is_active=True)
        .select_related("supplier")
        .annotate(packs_from=F("prices__packs_from"), price_micro=F("prices__pack_price_micro"))
        .order_by("pk", "packs_from")
    )
    best: dict[int, tuple[tuple[bool, bool, Fraction], UsedOffer]] = {}
    for _, of_offer in groupby(rows, key=attrgetter("pk")):
        priced = list(of_offer)
        offer = _used(priced)
        rank, item_id = _rank(offer), priced[0].item_id
        if item_id not in best or rank < best[item_id][0]:
            best[item_id] = (rank, offer)
    return {item_id: offer for item_id, (_, offer) in best.items()}


def _used(priced: Sequence[Any]) -> UsedOffer:
    """An offer, of its rows: one for each price, one without where it has none."""
    row = priced[0]
    return UsedOffer(
        supplier=row.supplier,
        supplier_item_number=row.supplier_item_number,
        pack_base=row.pack_base,
        packs_min=row.packs_min,
        lead_time_days=row.lead_time_days,
        is_preferred=row.is_preferred,
        price_breaks=tuple(
            PriceBreak(each.packs_from, each.price_micro)
            for each in priced
            if each.price_micro is not None
        ),
    )


def _rank(offer: UsedOffer) -> tuple[bool, bool, Fraction]:
    price_micro = offer.pack_price_micro(offer.packs_min)
    return (
        not offer.is_preferred,
        price_micro is None,
        Fraction(price_micro or 0, offer.pack_base),
    )


class LeadTimes:
    """Lead times of received orders, by item and by whom they came from. No statement."""

    def __init__(self, rows: Iterable[LeadTime]) -> None:
        self._of_item: dict[int, list[int]] = {}
        self._of_supplier: dict[tuple[int, int], list[int]] = {}
        for row in rows:
            self._of_item.setdefault(row.item_id, []).append(row.days)
            self._of_supplier.setdefault((row.item_id, row.supplier_id), []).append(row.days)

    def days(self, item_id: int, offer: UsedOffer | None) -> list[int]:
        """Days of the latest received order lines of an item, oldest first.

        Of the offer's supplier. What others took tells something only when that supplier has
        neither delivered nor said how long it takes.
        """
        found = []
        if offer is not None:
            found = self._of_supplier.get((item_id, offer.supplier.pk), [])
            if not found and offer.lead_time_days is not None:
                return []
        return (found or self._of_item.get(item_id, []))[-LEAD_TIMES_KEPT:]
