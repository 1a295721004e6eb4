"""Writes of what suppliers offer, inside an open transaction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Any, TypedDict

from django.db import IntegrityError

from inventory.catalog.errors import DuplicateOfferError, NotActiveError, PriceBreaksError
from inventory.catalog.models import Offer, OfferPrice
from inventory.catalog.selectors import (
    item,
    positive_base,
    refuse_out_of_use,
    shown_amount,
    supplier,
)
from inventory.catalog.steps.rows import refuse_unfit
from shopfloor.audit import audit_change, facts_of
from shopfloor.errors import InvalidInputError, NotFoundError
from shopfloor.fields import Amount
from shopfloor.models import User
from shopfloor.money import money_text


@dataclass(frozen=True, slots=True)
class PriceBreak:
    """Price of one pack, in millionths of the currency, from so many packs on."""

    packs_from: int
    pack_price_micro: int


class OfferFields(TypedDict, total=False):
    """What a person may set of an offer; a change names only what changes.

    `prices` replaces all price breaks; none at all is an offer without a price.
    """

    supplier_item_number: str
    packs_min: int
    lead_time_days: int | None
    is_preferred: bool
    is_active: bool
    prices: Sequence[PriceBreak]


def add_offer(
    *,
    supplier_code: str,
    item_code: str,
    pack: Amount,
    fields: OfferFields,
    by: User,
    at: datetime,
) -> Offer:
    """Enter what a supplier offers of an item, in one size of pack. At most nine statements.

    A preferred one takes that from the item's other offers.

    Args:
        supplier_code: Who offers.
        item_code: What.
        pack: How much is in one pack, in any unit that can be turned into the item's.
        fields: The rest.
        by: Who enters it.
        at: When.

    Raises:
        NotFoundError, NotActiveError: supplier or item.
        AmountNotPositiveError, UnitMismatchError, FractionOfPieceError: the pack.
        PriceBreaksError: the prices.
        DuplicateOfferError: there is such an offer.
        InvalidInputError: `facts["fields"]` has the messages by field.
    """
    of_supplier, of_item = supplier(supplier_code), item(item_code)
    refuse_out_of_use(of_supplier)
    refuse_out_of_use(of_item)
    offer = Offer(supplier=of_supplier, item=of_item, pack_base=positive_base(of_item, pack))
    if _same(offer).exists():
        raise _duplicate(offer)
    return _write(offer, fields, before=None, prices=(), by=by, at=at)


def edit_offer(
    *,
    supplier_code: str,
    item_code: str,
    pack: Amount,
    fields: OfferFields,
    by: User,
    at: datetime,
) -> Offer:
    """Change an offer; supplier, item and pack say which. One taken out of use is not preferred.

    Raises:
        NotFoundError: no such supplier, item or offer.
        Others: as `add_offer`.
    """
    of_supplier, of_item = supplier(supplier_code), item(item_code)
    wanted = Offer(supplier=of_supplier, item=of_item, pack_base=positive_base(of_item, pack))
    offer = _same(wanted).select_for_update(no_key=True).first()
    if offer is None:
        raise NotFoundError(
            "This supplier has no such offer. Look at the item's offers.", **_facts(wanted)
        )
    offer.supplier, offer.item = of_supplier, of_item
    prices = _breaks_of(offer)
    before = {**facts_of(offer), "prices": _as_text(prices)}
    return _write(offer, fields, before=before, prices=prices, by=by, at=at)


def _same(offer: Offer) -> Any:
    return Offer.objects.filter(supplier=offer.supplier, item=offer.item, pack_base=offer.pack_base)


def _write(
    offer: Offer,
    fields: OfferFields,
    *,
    before: dict[str, object] | None,
    prices: Sequence[PriceBreak],
    by: User,
    at: datetime,
) -> Offer:
    columns: dict[str, Any] = dict(fields)
    prices = columns.pop("prices", prices)
    for name, value in columns.items():
        setattr(offer, name, value)
    _settle_preferred(offer, asked=bool(fields.get("is_preferred")))
    refuse_unfit(offer)
    refuse_gaps(prices, packs_min=offer.packs_min)
    if offer.is_preferred:
        _prefer_no_other(offer, by=by, at=at)
    try:
        offer.save()
    except IntegrityError as error:
        raise _duplicate(offer) from error
    if "prices" in fields:
        _replace_prices(offer, prices)
    after = {**facts_of(offer), "prices": _as_text(prices)}
    audit_change(by=by, at=at, row=offer, before=before, after=after)
    return offer


def _settle_preferred(offer: Offer, *, asked: bool) -> None:
    if offer.is_active:
        return
    if asked:
        raise NotActiveError(
            "An offer out of use cannot be preferred. Take it into use again, or prefer another.",
            **_facts(offer),
        )
    offer.is_preferred = False


def _prefer_no_other(offer: Offer, *, by: User, at: datetime) -> None:
    preferred = Offer.objects.select_for_update(no_key=True).filter(
        item=offer.item, is_preferred=True
    )
    for other in preferred.exclude(pk=offer.pk):  # at most one
        before = facts_of(other)
        other.is_preferred = False
        other.save(update_fields=["is_preferred"])
        audit_change(by=by, at=at, row=other, before=before)


def refuse_gaps(prices: Sequence[PriceBreak], *, packs_min: int) -> None:
    """Refuse price breaks that leave a number of packs without a price, or with two.

    Raises:
        PriceBreaksError: not ascending, or the first begins above the least order.
        InvalidInputError: a number of packs or a price that cannot be.
    """
    if any(price.packs_from < 1 or price.pack_price_micro < 0 for price in prices):
        raise InvalidInputError(
            "A price is for one pack or more, and not below zero.", prices=_as_text(prices)
        )
    if any(low.packs_from >= high.packs_from for low, high in pairwise(prices)):
        raise PriceBreaksError(
            "Give the prices in order, each from more packs on than the one before.",
            prices=_as_text(prices),
        )
    if prices and prices[0].packs_from > packs_min:
        raise PriceBreaksError(
            f"There is no price for {packs_min}, the fewest packs that can be ordered."
            " Let the first price begin there.",
            packs_min=packs_min,
            prices=_as_text(prices),
        )


def _replace_prices(offer: Offer, prices: Sequence[PriceBreak]) -> None:
    OfferPrice.objects.filter(offer=offer).delete()
    OfferPrice.objects.bulk_create(
        [
            OfferPrice(
                offer=offer, packs_from=price.packs_from, pack_price_micro=price.pack_price_micro
            )
            for price in prices
        ]
    )


def _breaks_of(offer: Offer) -> list[PriceBreak]:
    return [
        PriceBreak(price.packs_from, price.pack_price_micro)
        for price in OfferPrice.objects.filter(offer=offer).order_by("packs_from")
    ]


def _as_text(prices: Sequence[PriceBreak]) -> list[list[str]]:
    return [[str(price.packs_from), money_text(price.pack_price_micro)] for price in prices]


def _facts(offer: Offer) -> dict[str, object]:
    amount = shown_amount(offer.item, offer.pack_base)
    return {
        "supplier": offer.supplier.code,
        "item": offer.item.code,
        "pack": {"amount": f"{amount.amount:f}", "unit": amount.unit},
    }


def _duplicate(offer: Offer) -> DuplicateOfferError:
    return DuplicateOfferError(
        "This supplier offers this pack of the item already, or somebody changed the item's offers"
        " just now. Look again, and change that offer.",
        **_facts(offer),
    )
