"""Arithmetic of items and offers: one amount in another unit, and the price of a pack."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Final, NamedTuple

from shopfloor.units import UNITS, Dimension, Measure, from_base, to_base

DECIMALS_MAX: Final = 12


class Converted(NamedTuple):
    """An amount in another unit.

    Attributes:
        amount: In that unit; half to even at `DECIMALS_MAX` places when it is not exact.
        is_exact: Whether every digit is there.
        kept_base: What the ledger would keep of it: whole base units of the item.
    """

    amount: Decimal
    is_exact: bool
    kept_base: int


def converted(*, amount: Decimal, unit: str, into: str, item: Measure) -> Converted:
    """An amount of an item in another unit, not rounded to base units on the way: 1 lb is 16 oz.

    Args:
        amount: In `unit`, >= 0.
        unit: A name in `shopfloor.units.UNITS`.
        into: Another.
        item: Its piece mass or density bridges what weight alone cannot.

    Raises:
        InvalidInputError: a leaf of `shopfloor.units.to_base`, such as UnitMismatchError.
    """
    kept_base = to_base(amount=amount, unit=unit, item=item)
    from_base(qty_base=kept_base, unit=into, item=item)  # refuses a unit this item cannot be in
    source, target = UNITS[unit], UNITS[into]
    exact = Fraction(amount) * source.factor / target.factor
    if source.dimension is not target.dimension:
        exact *= _mg_in_one(source.dimension, item) / _mg_in_one(target.dimension, item)
    scaled = exact * 10**DECIMALS_MAX
    digits = tuple(map(int, str(round(scaled))))
    return Converted(
        amount=_plain(Decimal((0, digits, -DECIMALS_MAX))),
        is_exact=scaled.denominator == 1,
        kept_base=kept_base,
    )


def _mg_in_one(dimension: Dimension, item: Measure) -> Fraction:
    """Milligrams in one base unit; only for dimensions the item can be measured in."""
    if dimension is Dimension.MASS:
        return Fraction(1)
    bridge = item.piece_mass_mg if dimension is Dimension.COUNT else item.density_mg_per_ul
    assert bridge is not None
    return Fraction(bridge)


def _plain(number: Decimal) -> Decimal:
    """Without trailing zeros and never in exponent form; no context can round it."""
    text = f"{number:f}"
    return Decimal(text.rstrip("0").rstrip(".") if "." in text else text)


def pack_price_micro(packs: int, breaks: Sequence[tuple[int, int]]) -> int | None:
    """Price of one pack when so many are ordered; None when there is no price for so few.

    Args:
        packs: >= 1.
        breaks: (packs from, price of a pack in millionths), ascending.
    """
    fitting = [price for packs_from, price in breaks if packs_from <= packs]
    return fitting[-1] if fitting else None
