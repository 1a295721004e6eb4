"""Amounts in base units (milligrams, microliters, pieces, millimeters) and the units people use.

The one place that converts an amount. Factors are exact fractions; whatever rounds says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from types import MappingProxyType
from typing import Final, NamedTuple

from shopfloor.errors import InvalidInputError
from shopfloor.numerals import parse_number

AMOUNT_BASE_MAX: Final = 10**15
"""Largest amount in base units, either sign: 1,000,000 t, or 9,200 times less than 64 bits hold."""

FROM_BASE_DECIMALS: Final = 12
"""Decimal places of `from_base`. Enough to find the base units again, short tons included."""


class Dimension(StrEnum):
    """What an item is measured by; its base unit is what the ledger keeps."""

    MASS = "mass"
    VOLUME = "volume"
    COUNT = "count"
    LENGTH = "length"


BASE_UNIT: Final[Mapping[Dimension, str]] = MappingProxyType(
    {
        Dimension.MASS: "mg",
        Dimension.VOLUME: "uL",
        Dimension.COUNT: "each",
        Dimension.LENGTH: "mm",
    }
)


class Unit(NamedTuple):
    """A unit people write amounts in.

    Attributes:
        dimension: What it measures.
        factor: Base units in one, exactly.
        label: How it is written for people.
        decimals: Places shown: the last one is still worth a base unit or more, so that no digit
            says more than is stored and `1 lb` (453,592 mg) comes back as `1 lb`.
    """

    dimension: Dimension
    factor: Fraction
    label: str
    decimals: int


# NIST SP 811 (2008), Appendix B: 1 lb = 0.453 592 37 kg, 1 in = 25.4 mm, 1 US gal = 231 cubic
# inches = 3.785 411 784 L, all exact; the other customary units are whole parts or multiples.
_LB: Final = Fraction(45_359_237, 100)
_GAL: Final = Fraction(3_785_411_784, 1000)
_IN: Final = Fraction(254, 10)

UNITS: Final[Mapping[str, Unit]] = MappingProxyType(
    {
        "mg": Unit(Dimension.MASS, Fraction(1), "mg", 0),
        "g": Unit(Dimension.MASS, Fraction(1000), "g", 3),
        "kg": Unit(Dimension.MASS, Fraction(1_000_000), "kg", 6),
        "oz": Unit(Dimension.MASS, _LB / 16, "oz", 4),
        "lb": Unit(Dimension.MASS, _LB, "lb", 5),
        "ton_us": Unit(Dimension.MASS, _LB * 2000, "short ton", 8),
        "uL": Unit(Dimension.VOLUME, Fraction(1), "uL", 0),
        "mL": Unit(Dimension.VOLUME, Fraction(1000), "mL", 3),
        "L": Unit(Dimension.VOLUME, Fraction(1_000_000), "L", 6),
        "fl_oz": Unit(Dimension.VOLUME, _GAL / 128, "fl oz", 4),
        "qt": Unit(Dimension.VOLUME, _GAL / 4, "qt", 5),
        "gal": Unit(Dimension.VOLUME, _GAL, "gal", 6),
        "each": Unit(Dimension.COUNT, Fraction(1), "each", 0),
        "dozen": Unit(Dimension.COUNT, Fraction(12), "dozen", 0),
        "gross": Unit(Dimension.COUNT, Fraction(144), "gross", 0),
        "mm": Unit(Dimension.LENGTH, Fraction(1), "mm", 0),
        "cm": Unit(Dimension.LENGTH, Fraction(10), "cm", 1),
        "m": Unit(Dimension.LENGTH, Fraction(1000), "m", 3),
        "in": Unit(Dimension.LENGTH, _IN, "in", 1),
        "ft": Unit(Dimension.LENGTH, _IN * 12, "ft", 2),
    }
)


class UnknownUnitError(InvalidInputError):
    """Not a unit of `UNITS`; the facts list those that fit."""

    code = "unknown_unit"


class UnitMismatchError(InvalidInputError):
    """The unit measures something else, and the item lacks what would bridge it."""

    code = "unit_mismatch"


class FractionOfPieceError(InvalidInputError):
    """Pieces are whole."""

    code = "fraction_of_piece"


class AmountTooLargeError(InvalidInputError):
    """Beyond `AMOUNT_BASE_MAX` base units."""

    code = "amount_too_large"


class TareAboveGrossError(InvalidInputError):
    """The empty container weighs more than the full one."""

    code = "tare_above_gross"


class MeasureError(InvalidInputError):
    """A piece mass or density that no thing has."""

    code = "measure_impossible"


@dataclass(frozen=True, slots=True)
class Measure:
    """How one item is measured.

    Attributes:
        dimension: What its amounts are kept in.
        piece_mass_mg: Mean mass of one piece, > 0; lets weight stand for pieces.
        density_mg_per_ul: Density, > 0, the same number as g/mL; lets weight stand for volume.
    """

    dimension: Dimension
    piece_mass_mg: Decimal | None = None
    density_mg_per_ul: Decimal | None = None

    def __post_init__(self) -> None:
        _check_positive(self.piece_mass_mg, what="piece mass")
        _check_positive(self.density_mg_per_ul, what="density")


class PiecesWeighed(NamedTuple):
    """What a scale says about a pile of equal pieces.

    Attributes:
        pieces: Nearest whole number of pieces.
        remainder_mg: Net weight less that of the pieces, exact; at most half a piece either way. A
            large one says that the piece mass or the pile is not what it should be.
    """

    pieces: int
    remainder_mg: Decimal


def parse_amount(text: str, *, allow_negative: bool = False) -> Decimal:
    """The amount a person typed, in the unit they chose; `to_base` takes it further.

    Raises:
        InvalidInputError: see `shopfloor.numerals.parse_number`.
    """
    return parse_number(text, what="amount", allow_negative=allow_negative)


def to_base(*, amount: Decimal, unit: str, item: Measure) -> int:
    """Base units of the item in an amount.

    Rounded half to even, once, to the nearest base unit, so a trace of less than half of one is 0.
    Pieces are never rounded: an amount in a unit of count must be whole pieces. A weight of an item
    kept in pieces gives the nearest whole piece.

    Raises:
        UnknownUnitError: no such unit.
        UnitMismatchError: the unit measures something else and nothing bridges it.
        FractionOfPieceError: a part of a piece was named.
        AmountTooLargeError: beyond `AMOUNT_BASE_MAX`, before or after conversion.
    """
    assert amount.is_finite()
    of_unit = _unit(unit, item=item)
    # First, because the exact fraction of 1E+999999 would take all memory.
    if amount.copy_abs() > AMOUNT_BASE_MAX:
        raise _too_large(amount=f"{amount:.6E}", unit=unit)
    in_unit_base = Fraction(amount) * of_unit.factor
    if of_unit.dimension is Dimension.COUNT and in_unit_base.denominator != 1:
        raise FractionOfPieceError(
            f"{amount:f} {of_unit.label} is not a whole number of pieces. Enter whole pieces.",
            amount=f"{amount:f}",
            unit=unit,
        )
    qty_base = round(in_unit_base * _bridge(of_unit.dimension, item.dimension, item=item))
    if abs(qty_base) > AMOUNT_BASE_MAX:
        raise _too_large(amount=f"{amount:f}", unit=unit)
    return qty_base


def from_base(*, qty_base: int, unit: str, item: Measure) -> Decimal:
    """The amount in a unit, without trailing zeros and never in exponent form.

    Within one dimension the shortest number that `to_base` takes back to the same base units, so
    that what was 50 lb reads 50 and not 49.999998897689; between dimensions, and for pieces in
    dozens or gross that do not come out even, exact or half to even at `FROM_BASE_DECIMALS`.

    Raises:
        UnknownUnitError: no such unit.
        UnitMismatchError: the unit measures something else and nothing bridges it.
    """
    exact = _amount_in(qty_base, unit, item=item)
    of_unit = UNITS[unit]
    if of_unit.dimension is item.dimension and of_unit.dimension is not Dimension.COUNT:
        for places in range(FROM_BASE_DECIMALS):
            short = _decimal(exact, places=places)
            if round(Fraction(short) * of_unit.factor) == qty_base:
                return short
    return _decimal(exact, places=FROM_BASE_DECIMALS)


def own_text(qty_base: int, unit: str) -> str:
    """The digits of `from_base` in a unit of the item's own dimension, by whole numbers alone.

    Long lists are made of these; fractions and decimals take many times as long.
    """
    if unit in _KEPT_UNITS:
        return str(qty_base)
    size, places = _shortest(abs(qty_base), unit)
    whole, decimals = divmod(size, 10**places)
    sign = "-" if qty_base < 0 and size else ""
    return (
        f"{sign}{whole}.{decimals:0{places}d}".rstrip("0").rstrip(".")
        if places
        else f"{sign}{whole}"
    )


_KEPT_UNITS: Final = frozenset(BASE_UNIT.values())


def _shortest(qty_base: int, unit: str) -> tuple[int, int]:
    """An amount of a unit as a whole number and how many of its digits are decimals."""
    factor = UNITS[unit].factor
    one, base = factor.denominator, factor.numerator
    if UNITS[unit].dimension is not Dimension.COUNT:
        for places in range(FROM_BASE_DECIMALS):
            size = _rounded(qty_base * one * 10**places, base)
            if _rounded(size * base, one * 10**places) == qty_base:
                return size, places
    return _rounded(qty_base * one * 10**FROM_BASE_DECIMALS, base), FROM_BASE_DECIMALS


def _rounded(number: int, by: int) -> int:
    """A quotient of whole numbers, both at least 0: half to even, as `round` does."""
    size, rest = divmod(number, by)
    return size + (2 * rest > by or (2 * rest == by and size % 2 == 1))


def display(qty_base: int, unit: str, item: Measure) -> str:
    """An amount for people, like `2.5 kg`: places as `Unit.decimals`, trailing zeros dropped.

    A dozen or gross that does not come out even is shown in pieces: `7 pieces`, not `0.583 dozen`.

    Raises:
        UnknownUnitError: no such unit.
        UnitMismatchError: the unit measures something else and nothing bridges it.
    """
    shown = _unit(unit, item=item)
    amount = _amount_in(qty_base, unit, item=item)
    if shown.dimension is Dimension.COUNT and amount.denominator != 1:
        unit, amount = "each", _amount_in(qty_base, "each", item=item)
    return in_words(_decimal(amount, places=UNITS[unit].decimals), unit)


def in_words(amount: Decimal, unit: str) -> str:
    """An amount in a sentence: `6,972 pieces`, `1 piece`, `2.5 kg`."""
    if unit == "each":
        return f"{amount:,f} {'piece' if amount == 1 else 'pieces'}"
    return f"{amount:,f} {UNITS[unit].label}"


def pieces_by_weight(gross_mg: int, tare_mg: int, piece_mass_mg: Decimal) -> PiecesWeighed:
    """Count equal pieces by weight, to the nearest piece (half to even).

    Args:
        gross_mg: Pieces and container, >= 0.
        tare_mg: The container alone, >= 0.
        piece_mass_mg: Mean mass of one piece, > 0.

    Raises:
        TareAboveGrossError: the container is heavier than the whole.
        MeasureError: the piece mass is not above zero.

    Source: count = net weight / piece weight, S. H. Steiner and R. J. MacKay, "Scale Counting",
    University of Waterloo.
    """
    assert gross_mg >= 0
    assert tare_mg >= 0
    _check_positive(piece_mass_mg, what="piece mass")
    if tare_mg > gross_mg:
        raise TareAboveGrossError(
            "The container weighs more than the full weight. Weigh both again.",
            gross_mg=gross_mg,
            tare_mg=tare_mg,
        )
    net_mg = gross_mg - tare_mg
    piece = Fraction(piece_mass_mg)
    pieces = round(net_mg / piece)
    # Exact: the piece mass is a decimal, so its multiples are too.
    places = max(0, -_exponent(piece_mass_mg))
    return PiecesWeighed(pieces, _decimal(net_mg - pieces * piece, places=places))


def units_of(item: Measure) -> tuple[str, ...]:
    """Every unit an amount of this item may be written in, its own dimension first."""
    own = tuple(name for name, unit in UNITS.items() if unit.dimension is item.dimension)
    bridged = tuple(
        name
        for name, unit in UNITS.items()
        if unit.dimension is not item.dimension and _has_bridge(unit.dimension, item=item)
    )
    return own + bridged


def _unit(unit: str, *, item: Measure) -> Unit:
    if unit not in UNITS:
        possible = units_of(item)
        raise UnknownUnitError(
            f"There is no unit “{unit[:20]}”. Use one of: {', '.join(possible)}.",
            unit=unit[:20],
            units=list(possible),
        )
    return UNITS[unit]


def _has_bridge(other: Dimension, *, item: Measure) -> bool:
    pair = {other, item.dimension}
    return (pair == {Dimension.MASS, Dimension.COUNT} and item.piece_mass_mg is not None) or (
        pair == {Dimension.MASS, Dimension.VOLUME} and item.density_mg_per_ul is not None
    )


def _bridge(source: Dimension, target: Dimension, *, item: Measure) -> Fraction:
    """Base units of `target` in one base unit of `source`."""
    if source is target:
        return Fraction(1)
    pair = {source, target}
    missing = None
    mg_per_other: Decimal | None = None
    if pair == {Dimension.MASS, Dimension.COUNT}:
        mg_per_other, missing = item.piece_mass_mg, "piece mass"
    elif pair == {Dimension.MASS, Dimension.VOLUME}:
        mg_per_other, missing = item.density_mg_per_ul, "density"
    if mg_per_other is None:
        why = f"it needs the item's {missing}" if missing else "nothing bridges these two"
        raise UnitMismatchError(
            f"Cannot turn {source} into {target}: {why}. Use one of: {', '.join(units_of(item))}.",
            source=str(source),
            target=str(target),
            missing=missing,
            units=list(units_of(item)),
        )
    factor = Fraction(mg_per_other)
    return 1 / factor if source is Dimension.MASS else factor


def _amount_in(qty_base: int, unit: str, *, item: Measure) -> Fraction:
    into = _unit(unit, item=item)
    return qty_base * _bridge(item.dimension, into.dimension, item=item) / into.factor


def _decimal(value: Fraction, *, places: int) -> Decimal:
    """Half to even at `places`, trailing zeros dropped; in integers, so no context can round it."""
    scaled = round(value * 10**places)
    while places > 0 and scaled % 10 == 0:
        scaled, places = scaled // 10, places - 1
    return Decimal((int(scaled < 0), tuple(map(int, str(abs(scaled)))), -places))


def _exponent(number: Decimal) -> int:
    exponent = number.as_tuple().exponent
    assert isinstance(exponent, int)
    return exponent


def _check_positive(number: Decimal | None, *, what: str) -> None:
    if number is not None and not (number.is_finite() and number > 0):
        raise MeasureError(f"A {what} is above zero.", what=what, value=str(number))


def _too_large(*, amount: str, unit: str) -> AmountTooLargeError:
    return AmountTooLargeError(
        "The amount is larger than any shop can hold. Check the digits and the unit.",
        amount=amount,
        unit=unit,
        base_max=AMOUNT_BASE_MAX,
    )
