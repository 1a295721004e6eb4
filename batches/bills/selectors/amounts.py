"""Amounts of a bill as people read them: a piece may take parts of a base unit."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from batches.bills.rules import PER_PIECE_DECIMALS
from batches.bills.selectors.sheets import SheetItem
from shopfloor.fields import Amount
from shopfloor.units import BASE_UNIT, FROM_BASE_DECIMALS, UNITS, Dimension


class PerAmount(NamedTuple):
    """A mixture's way to say it: takes so much of an item for so much of the mixture."""

    takes: Amount
    makes: Amount


def shown_amount(qty_base: int | Decimal | Fraction, item: SheetItem) -> Amount:
    """Base units in the item's display unit; in its base unit where only that is exact.

    A fraction that no decimal holds is rounded half to even at `PER_PIECE_DECIMALS` base places.
    """
    exact = Fraction(qty_base)
    unit = UNITS[item.display_unit]
    shown = exact / unit.factor * 10**FROM_BASE_DECIMALS
    if unit.dimension is item.measure.dimension and shown.denominator == 1:
        return Amount(_plain(shown.numerator, FROM_BASE_DECIMALS), item.display_unit)
    places = PER_PIECE_DECIMALS
    return Amount(_plain(round(exact * 10**places), places), BASE_UNIT[item.measure.dimension])


def one_of(made: SheetItem) -> Amount:
    """What a bill speaks of: one piece, or one display unit of a mixture."""
    is_pieces = made.measure.dimension is Dimension.COUNT
    return Amount(Decimal(1), BASE_UNIT[Dimension.COUNT] if is_pieces else made.display_unit)


def one_base(made: SheetItem) -> Fraction:
    """Base units in `one_of`."""
    return UNITS[one_of(made).unit].factor


def per_amount(per_base: Decimal | Fraction, *, item: SheetItem, made: SheetItem) -> PerAmount:
    """What `one_of` a made item takes of another, out of what its base unit takes."""
    takes = shown_amount(Fraction(per_base) * one_base(made), item)
    return PerAmount(takes=takes, makes=one_of(made))


def _plain(scaled: int, places: int) -> Decimal:
    """`scaled`, its point moved, no trailing zeros; in integers, so that no context rounds."""
    while places > 0 and scaled % 10 == 0:
        scaled, places = scaled // 10, places - 1
    return Decimal((int(scaled < 0), tuple(map(int, str(abs(scaled)))), -places))
