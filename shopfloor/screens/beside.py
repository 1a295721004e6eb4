"""An amount in the other system of units: who thinks in pounds reads kilograms too."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Context, Decimal
from types import MappingProxyType
from typing import Final

from shopfloor.units import UNITS

DIGITS: Final = 4
_BESIDE: Final[Mapping[str, str]] = MappingProxyType(
    {
        "g": "oz",
        "kg": "lb",
        "oz": "g",
        "lb": "kg",
        "ton_us": "kg",
        "mL": "fl_oz",
        "L": "gal",
        "fl_oz": "mL",
        "qt": "L",
        "gal": "L",
        "mm": "in",
        "cm": "in",
        "m": "ft",
        "in": "mm",
        "ft": "m",
    }
)


def beside(amount: Decimal, unit: str) -> str:
    """The amount in the unit of about the same size, to `DIGITS` digits: 25 kg is "55.12 lb".

    Empty for pieces, for nothing, and where the other system has no unit so small.
    """
    other = _BESIDE.get(unit)
    if other is None or not amount:
        return ""
    factor = UNITS[unit].factor / UNITS[other].factor
    whole = len(str(abs(int(amount * factor.numerator / factor.denominator))))
    rounded = Context(prec=max(DIGITS, whole)).divide(
        amount * factor.numerator, Decimal(factor.denominator)
    )
    return f"{rounded.normalize():f} {UNITS[other].label}"
