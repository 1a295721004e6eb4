"""Reads of the catalog, and an item's amounts in the unit people see. Each states its queries."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final, NamedTuple, TypeVar

from django.db.models import Prefetch, QuerySet

from inventory.catalog.errors import AmountNotPositiveError, NotActiveError
from inventory.catalog.models import (
    Arrival,
    Colorway,
    DimensionKind,
    Equipment,
    EquipmentKind,
    Item,
    ItemKind,
    LureModel,
    Offer,
    Place,
    PlaceKind,
    Supplier,
)
from inventory.catalog.rules import converted
from shopfloor.errors import NotFoundError
from shopfloor.fields import Amount
from shopfloor.units import BASE_UNIT, UNITS, Dimension, Measure, from_base, to_base

C = TypeVar("C", LureModel, Colorway, Place, Equipment, Supplier, Item)

# What doors offer to choose from: they may not import the tables.
ITEM_KINDS: Final = ItemKind.choices
DIMENSIONS: Final = DimensionKind.choices
PLACE_KINDS: Final = PlaceKind.choices
EQUIPMENT_KINDS: Final = EquipmentKind.choices
ARRIVALS: Final = Arrival.choices


class UnitRow(NamedTuple):
    """A unit people write amounts in; `base_units` is how many base units one is, exactly."""

    name: str
    label: str
    dimension: str
    base_unit: str
    base_units: Decimal


@dataclass(frozen=True, slots=True)
class Conversion:
    """One amount of an item in two units, and what the ledger would keep of it."""

    item: str
    given: Amount
    converted: Amount
    is_exact: bool
    kept: Amount


def measure_of(item: Item) -> Measure:
    """How an item is measured, for `shopfloor.units`. No query.

    Raises:
        MeasureError: its piece mass or density is not above zero.
    """
    return Measure(
        dimension=Dimension(item.dimension),
        piece_mass_mg=item.piece_mass_mg,
        density_mg_per_ul=item.density_mg_per_ul,
    )


def positive_base(item: Item, amount: Amount) -> int:
    """Base units of the item in an amount that must be more than nothing. No query.

    Raises:
        AmountNotPositiveError: zero or less, or less than half a base unit.
        InvalidInputError: a leaf of `shopfloor.units.to_base`, such as UnitMismatchError.
    """
    qty_base = to_base(amount=amount.amount, unit=amount.unit, item=measure_of(item))
    if qty_base <= 0:
        raise AmountNotPositiveError(
            f"The amount of {item.code} must be above zero. Check the number and its unit.",
            item=item.code,
            amount=f"{amount.amount:f}",
            unit=amount.unit,
        )
    return qty_base


def shown_amount(item: Item, qty_base: int) -> Amount:
    """An amount in the unit people see, exact: pieces that make no whole dozen stay pieces."""
    unit = item.display_unit
    is_count = item.dimension == DimensionKind.COUNT
    if is_count and (qty_base / UNITS[unit].factor).denominator != 1:
        unit = BASE_UNIT[Dimension.COUNT]
    return Amount(from_base(qty_base=qty_base, unit=unit, item=measure_of(item)), unit)


def unit_rows() -> list[UnitRow]:
    """Every unit. No query."""
    return [
        UnitRow(
            name=name,
            label=unit.label,
            dimension=str(unit.dimension),
            base_unit=BASE_UNIT[unit.dimension],
            base_units=_exact(unit.factor),
        )
        for name, unit in UNITS.items()
    ]


def _exact(factor: Fraction) -> Decimal:
    number = Decimal(factor.numerator) / factor.denominator
    assert Fraction(number) == factor, "every unit of ours is a finite decimal of base units"
    return number


def conversion(*, code: str, amount: Decimal, unit: str, into: str) -> Conversion:
    """An amount of an item in another unit. One query.

    Raises:
        NotFoundError: no such item.
        UnitMismatchError: the units measure different things, and the item has no piece mass or
            density that would bridge them.
        UnknownUnitError, FractionOfPieceError, AmountTooLargeError: see `to_base`.
    """
    row = item(code)
    measure = measure_of(row)
    found = converted(amount=amount, unit=unit, into=into, item=measure)
    base_unit = BASE_UNIT[measure.dimension]
    return Conversion(
        item=row.code,
        given=Amount(amount, unit),
        converted=Amount(found.amount, into),
        is_exact=found.is_exact,
        kept=Amount(Decimal(found.kept_base), base_unit),
    )


def models() -> QuerySet[LureModel]:
    """Models of lures, to be filtered and paged; two queries a page."""
    return LureModel.objects.all()


def colorways() -> QuerySet[Colorway]:
    """Colorways, to be filtered and paged; two queries a page."""
    return Colorway.objects.all()


def places() -> QuerySet[Place]:
    """Places, to be filtered and paged; two queries a page."""
    return Place.objects.all()


def equipment() -> QuerySet[Equipment]:
    """Equipment with its parts, to be filtered and paged; three queries a page."""
    parts = Equipment.objects.order_by("number").select_related("parent")
    return Equipment.objects.select_related("parent").prefetch_related(Prefetch("parts", parts))


def suppliers() -> QuerySet[Supplier]:
    """Suppliers, to be filtered and paged; two queries a page."""
    return Supplier.objects.all()


def items() -> QuerySet[Item]:
    """Items with what they point at, to be filtered and paged; two queries a page."""
    return Item.objects.select_related("model", "colorway", "storage_place")


def offers() -> QuerySet[Offer]:
    """Offers with their prices, to be filtered and paged; three queries a page."""
    return Offer.objects.select_related("supplier", "item").prefetch_related("prices")


def model(code: str) -> LureModel:
    """One model. One query.

    Raises:
        NotFoundError: no such model.
    """
    return _the(models(), code, "model")


def colorway(code: str) -> Colorway:
    """One colorway. One query.

    Raises:
        NotFoundError: no such colorway.
    """
    return _the(colorways(), code, "colorway")


def place(code: str) -> Place:
    """One place. One query.

    Raises:
        NotFoundError: no such place.
    """
    return _the(places(), code, "place")


def one_equipment(code: str) -> Equipment:
    """One piece of equipment with its parts. Two queries.

    Raises:
        NotFoundError: no such equipment.
    """
    return _the(equipment(), code, "equipment")


def supplier(code: str) -> Supplier:
    """One supplier. One query.

    Raises:
        NotFoundError: no such supplier.
    """
    return _the(suppliers(), code, "supplier")


def supplier_with_offers(code: str) -> Supplier:
    """One supplier with its offers and their prices. Three queries.

    Raises:
        NotFoundError: no such supplier.
    """
    return _the(suppliers().prefetch_related(Prefetch("offers", offers())), code, "supplier")


def item(code: str) -> Item:
    """One item. One query.

    Raises:
        NotFoundError: no such item.
    """
    return _the(items(), code, "item")


def item_with_offers(code: str) -> Item:
    """One item with what suppliers offer of it. Three queries.

    Raises:
        NotFoundError: no such item.
    """
    return _the(items().prefetch_related(Prefetch("offers", offers())), code, "item")


def offer(offer_id: int) -> Offer:
    """One offer with its prices. Two queries."""
    return offers().get(pk=offer_id)


def items_by_code(codes: Iterable[str]) -> dict[str, Item]:
    """Items with their storage places, by code as it was typed. One query, none for no code.

    Raises:
        NotFoundError: with the codes that no item has.
    """
    return _by_code(items(), codes, "item")


def places_by_code(codes: Iterable[str]) -> dict[str, Place]:
    """Places by code as it was typed. One query, none for no code.

    Raises:
        NotFoundError: with the codes that no place has.
    """
    return _by_code(places(), codes, "place")


def refuse_out_of_use(row: LureModel | Colorway | Place | Equipment | Supplier | Item) -> None:
    """Refuse to go on with something that was taken out of use. No query.

    Raises:
        NotActiveError: it is not active.
    """
    if not row.is_active:
        noun = row._meta.verbose_name
        raise NotActiveError(
            f"{row.code} is out of use. Choose another {noun}, or take it into use again.",
            code=row.code,
        )


def _the(rows: QuerySet[C], code: str, noun: str) -> C:
    row = rows.filter(code=code.strip().upper()).first()
    if row is None:
        raise NotFoundError(f"No {noun} has this code. Look at the list.", **{noun: code})
    return row


def _by_code(rows: QuerySet[C], codes: Iterable[str], noun: str) -> dict[str, C]:
    wanted = {code: code.strip().upper() for code in codes}
    if not wanted:
        return {}
    found = {row.code: row for row in rows.filter(code__in=set(wanted.values()))}
    missing = sorted(set(wanted.values()) - found.keys())
    if missing:
        raise NotFoundError(f"No {noun} has this code. Look at the list.", **{noun: missing})
    return {typed: found[code] for typed, code in wanted.items()}
