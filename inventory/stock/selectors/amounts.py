"""Amounts of items as people write and read them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import NamedTuple, Protocol

from inventory.catalog.selectors import measure_of
from inventory.stock.errors import NothingToDoError
from inventory.stock.models import Lot
from inventory.stock.selectors.among import AmongCodes, GivenMany
from shopfloor.errors import NotFoundError
from shopfloor.prepared import Prepared
from shopfloor.units import (
    BASE_UNIT,
    UNITS,
    Dimension,
    Measure,
    own_text,
    pieces_by_weight,
    to_base,
)
from shopfloor.units import in_words as amount_in_words


class AmountRow(NamedTuple):
    """An amount for people: exact, in the item's display unit."""

    amount: str
    unit: str


class Shown(Protocol):
    """An item as far as its amounts are shown."""

    @property
    def code(self) -> str:
        """Its public code."""

    @property
    def dimension(self) -> str:
        """What its amounts are kept in."""

    @property
    def display_unit(self) -> str:
        """The unit people see."""


class Wanted(NamedTuple):
    """An amount of a lot as a person wrote it."""

    lot_code: str
    amount: Decimal
    unit: str


class Weighed(NamedTuple):
    """A lot of pieces on a scale, container and all."""

    lot_code: str
    gross: tuple[Decimal, str]
    tare: tuple[Decimal, str]


MASS = Measure(dimension=Dimension.MASS)


def amount_row(qty_base: int, *, dimension: str, unit: str) -> AmountRow:
    """Base units of an item in its display unit; pieces that make no whole dozen stay pieces."""
    if dimension == Dimension.COUNT and qty_base % UNITS[unit].factor.numerator:
        unit = BASE_UNIT[Dimension.COUNT]
    return AmountRow(own_text(qty_base, unit), unit)


def amount_of(item: Shown, qty_base: int) -> AmountRow:
    """Base units of an item in its display unit."""
    return amount_row(qty_base, dimension=item.dimension, unit=item.display_unit)


def in_words(amount: AmountRow) -> str:
    """An amount in a sentence: `2.5 kg`."""
    return amount_in_words(Decimal(amount.amount), amount.unit)


def lots_qty_base(wanted: Sequence[Wanted]) -> list[int]:
    """Base units of amounts of lots, in the order given. One statement.

    Raises:
        NotFoundError: no such lot.
        NothingToDoError: an amount of less than half a base unit.
        UnitMismatchError, FractionOfPieceError, AmountTooLargeError: as named in `shopfloor.units`.
    """
    items = _items(row.lot_code for row in wanted)
    amounts = [
        to_base(amount=row.amount, unit=row.unit, item=items[row.lot_code]) for row in wanted
    ]
    for row, qty_base in zip(wanted, amounts, strict=True):
        if qty_base == 0:
            raise NothingToDoError(
                "The amount is nothing. Give one that is not zero.",
                lot=row.lot_code,
                amount=f"{row.amount:f}",
            )
    return amounts


def found_base(found: Sequence[Wanted | Weighed]) -> list[int]:
    """Base units found in a count, in the order given; 0 is a find too. One statement.

    What was weighed is net weight: pieces by the item's piece mass, else the item's own unit.

    Raises:
        NotFoundError: no such lot.
        TareAboveGrossError, UnitMismatchError, FractionOfPieceError, AmountTooLargeError: as in
            `shopfloor.units`.
    """
    items = _items(row.lot_code for row in found)
    return [_found_base(row, items[row.lot_code]) for row in found]


def _found_base(row: Wanted | Weighed, item: Measure) -> int:
    if isinstance(row, Wanted):
        return to_base(amount=row.amount, unit=row.unit, item=item)
    gross_mg = to_base(amount=row.gross[0], unit=row.gross[1], item=MASS)
    tare_mg = to_base(amount=row.tare[0], unit=row.tare[1], item=MASS)
    if item.dimension is Dimension.COUNT and item.piece_mass_mg is not None:
        return pieces_by_weight(gross_mg, tare_mg, item.piece_mass_mg).pieces
    # Refuses a tare above the gross weight, whatever the item; the mass of one piece does not
    # matter to that.
    pieces_by_weight(gross_mg, tare_mg, Decimal(1))
    return to_base(amount=Decimal(gross_mg - tare_mg), unit="mg", item=item)


_measured_lots = Prepared(
    lambda: (
        Lot.objects.filter(AmongCodes("code", GivenMany("codes")))
        .select_related("item")
        .only("code", "item__dimension", "item__piece_mass_mg", "item__density_mg_per_ul")
    )
)


def _items(lot_codes: Iterable[str]) -> dict[str, Measure]:
    codes = set(lot_codes)
    found = {lot.code: measure_of(lot.item) for lot in _measured_lots(codes=codes)}
    missing = sorted(codes - found.keys())
    if missing:
        raise NotFoundError("No lot has this code. Check it, or scan the sticker.", lots=missing)
    return found
