"""Amounts in the other system of units."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shopfloor.screens.beside import beside


@pytest.mark.parametrize(
    ("amount", "unit", "other"),
    [
        # NIST SP 811 (2008), appendix B.8, its factors to four digits.
        ("25", "kg", "55.12 lb"),
        ("1", "lb", "0.4536 kg"),
        ("1", "oz", "28.35 g"),
        ("1", "gal", "3.785 L"),
        ("1", "fl_oz", "29.57 mL"),
        ("25.4", "mm", "1 in"),
        ("1", "ft", "0.3048 m"),
        ("1000", "kg", "2205 lb"),
        ("-2", "kg", "-4.409 lb"),
        ("144", "each", ""),
        ("0", "kg", ""),
    ],
)
def test_an_amount_stands_beside_itself_in_the_other_system(
    amount: str, unit: str, other: str
) -> None:
    assert beside(Decimal(amount), unit) == other
