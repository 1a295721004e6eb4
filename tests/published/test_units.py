"""Conversion factors against NIST."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from shopfloor.units import UNITS, Dimension, Measure, to_base


@pytest.mark.parametrize(
    ("unit", "of_si", "si_unit"),
    [
        ("in", "25.4", "mm"),
        ("ft", "0.3048", "m"),
        ("lb", "0.45359237", "kg"),
        ("oz", "28.349523125", "g"),
        ("gal", "3.785411784", "L"),
        ("fl_oz", "29.5735295625", "mL"),
        ("ton_us", "907.18474", "kg"),
    ],
)
def test_factors_are_those_of_nist_sp_811_exactly(unit: str, of_si: str, si_unit: str) -> None:
    # NIST SP 811 (2008 edition), Appendix B, and NIST Handbook 44, Appendix C: exact by definition
    # (1 lb = 0.453 592 37 kg, 1 in = 25.4 mm, 1 US gal = 231 cubic inches). Figures from memory of
    # these tables; recomputed from the three definitions.
    assert UNITS[unit].factor == Fraction(of_si) * UNITS[si_unit].factor


def test_a_quart_is_a_quarter_of_a_gallon() -> None:
    # NIST Handbook 44, Appendix C: 1 liquid quart = 0.946 352 946 L exactly (from memory).
    assert UNITS["qt"].factor == Fraction("0.946352946") * UNITS["L"].factor


def test_one_pound_a_gallon_is_119_8_grams_a_liter() -> None:
    # As coating guides print it beside their VOC limits (from memory of such guides).
    grams_per_liter = UNITS["lb"].factor / UNITS["gal"].factor * 1000
    assert round(float(grams_per_liter), 1) == 119.8


def test_a_gallon_of_water_weighs_8_33_pounds() -> None:
    # 40 CFR part 60, Appendix A, Method 24 takes 8.33 lb/gal for water; at 0.9982 g/mL, its density
    # at 20 degrees C (from memory of the usual tables).
    water = Measure(Dimension.MASS, density_mg_per_ul=Decimal("0.9982"))
    mass_mg = to_base(amount=Decimal(1), unit="gal", item=water)
    assert round(float(mass_mg / UNITS["lb"].factor), 2) == 8.33
