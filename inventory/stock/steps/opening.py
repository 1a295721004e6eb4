"""Opening stock: lots that were there before the books began."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from django.db import models

from inventory.catalog.models import Item, Place, Supplier
from inventory.stock.models import OPENING, Disposition, Grade, OutsideKind, PostingKind
from inventory.stock.steps.posting import Document, Make, Posted, post
from shopfloor.errors import InvalidInputError, NotFoundError
from shopfloor.money import money_text
from shopfloor.stamp import Stamp

M = TypeVar("M", bound=models.Model)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpeningLot:
    """One lot that stands on a shelf.

    Attributes:
        item_code: What it is.
        qty_base: Base units of the item, > 0.
        value_micro: What it is worth, >= 0, millionths of the currency; 0 for a lot of somebody
            else.
        place_code: Where it stands; empty for the item's storage place.
        lot_code: The shop's own code, or empty.
    """

    item_code: str
    qty_base: int
    value_micro: int
    place_code: str = ""
    lot_code: str = ""
    supplier_code: str = ""
    supplier_lot_code: str = ""
    expires_at: datetime | None = None
    disposition: str = Disposition.RELEASED
    grade: str = Grade.FIRST
    owner: str = ""


def post_opening_lots(*, lots: Sequence[OpeningLot], stamp: Stamp) -> Posted:
    """Post opening lots; needs an open transaction. Three look-ups and one posting in all.

    Raises:
        NotFoundError: no such item, place or supplier.
        InvalidInputError: no lots, or one that cannot be; an item without a storage place needs a
            place; a lot of somebody else has no value.
        OwnCodeError, DuplicateCodeError, BooksClosedError: as named.
    """
    if not lots:
        raise InvalidInputError("Name at least one lot.")
    for lot in lots:
        _refuse_odd(lot)
    items = _by_code(Item, {lot.item_code for lot in lots}, "item", related=("storage_place",))
    places = _by_code(Place, {lot.place_code for lot in lots if lot.place_code}, "place")
    suppliers = _by_code(
        Supplier, {lot.supplier_code for lot in lots if lot.supplier_code}, "supplier"
    )
    makes = []
    for lot in lots:
        item = items[lot.item_code]
        place = places[lot.place_code] if lot.place_code else item.storage_place
        if place is None:
            raise InvalidInputError(
                "This item has no storage place. Give the lot a place.", item=item.code
            )
        if lot.owner and lot.value_micro:
            raise InvalidInputError(
                "A lot of somebody else has no value here. Leave the value out.",
                item=item.code,
                owner=lot.owner,
            )
        makes.append(
            Make(
                item_id=item.pk,
                place_id=place.pk,
                qty_base=lot.qty_base,
                value_micro=lot.value_micro,
                code=lot.lot_code,
                owner=lot.owner,
                grade=lot.grade,
                disposition=lot.disposition,
                supplier_id=suppliers[lot.supplier_code].pk if lot.supplier_code else None,
                supplier_lot_code=lot.supplier_lot_code,
                expires_at=lot.expires_at,
            )
        )
    return post(
        kind=PostingKind.ADJUSTED,
        stamp=stamp,
        makes=makes,
        outside_kind=OutsideKind.ADJUSTMENT,
        document=Document(OPENING),
    )


def _refuse_odd(lot: OpeningLot) -> None:
    if lot.qty_base <= 0 or lot.value_micro < 0:
        raise InvalidInputError(
            "A lot holds something, and is worth nothing or more.",
            item=lot.item_code,
            qty_base=lot.qty_base,
            value=money_text(lot.value_micro),
        )
    # Held is not among them: a hold says why and how it ends.
    possible = [Disposition.RELEASED, Disposition.QUARANTINED, Disposition.REJECTED]
    if lot.disposition not in possible or lot.grade not in Grade.values:
        raise InvalidInputError(
            "A lot is released, quarantined or rejected, and of a grade there is.",
            item=lot.item_code,
            disposition=lot.disposition,
            grade=lot.grade,
        )


def _by_code(
    model: type[M], codes: set[str], noun: str, related: tuple[str, ...] = ()
) -> dict[str, M]:
    rows = model._default_manager.filter(code__in=codes)
    found = {
        str(getattr(row, "code", "")): row
        for row in (rows.select_related(*related) if related else rows)
    }
    missing = sorted(codes - found.keys())
    if missing:
        raise NotFoundError(f"No {noun} has this code.", **{noun: missing})
    return found
