"""A supplier's label in plain fields."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from shopfloor.codes.gs1.deliveries import Delivered, Measure, delivered
from shopfloor.codes.gs1.elements import read_elements
from shopfloor.units import UNITS

GTIN = "09521234543213"


def said(text: str) -> Delivered:
    return delivered(read_elements(text), reference_year=2026)


def test_lot_expiry_and_amount_are_plain() -> None:
    assert said(f"(01){GTIN}(17)270600(10)RESIN-9(3102)002500(240)S-7(241)RESIN(400)F-22") == (
        Delivered(
            gtin=GTIN,
            lot_code="RESIN-9",
            expiry_on=date(2027, 6, 30),
            measures=(Measure(Decimal("25.00"), "kg"),),
            supplier_item_code="S-7",
            our_item_code="RESIN",
            our_order_code="F-22",
        )
    )


def test_a_box_says_what_is_in_it() -> None:
    assert said(f"(00)395212340000000014(02){GTIN}(37)48(11)260101(13)260102(15)261231") == (
        Delivered(
            gtin=GTIN,
            sscc="395212340000000014",
            articles=48,
            made_on=date(2026, 1, 1),
            packed_on=date(2026, 1, 2),
            best_before_on=date(2026, 12, 31),
        )
    )


def test_pieces_and_a_serial_are_plain() -> None:
    assert said(f"(01){GTIN}(30)0100(21)007") == Delivered(gtin=GTIN, pieces=100, serial="007")


def test_of_an_expiry_with_a_time_the_day_is_taken() -> None:
    assert said(f"(01){GTIN}(7003)2706152359").expiry_on == date(2027, 6, 15)


@pytest.mark.parametrize(
    ("text", "amount", "unit"),
    [
        ("(3103)001250", "1.250", "kg"),
        ("(3200)000055", "55", "lb"),
        ("(3153)000750", "0.750", "L"),
        ("(3163)000002", "2", "L"),
        ("(3601)000015", "1.5", "qt"),
        ("(3610)000005", "5", "gal"),
        ("(3111)001000", "100.0", "m"),
        ("(3210)000036", "36", "in"),
        ("(3220)000012", "12", "ft"),
        ("(3231)000015", "4.5", "ft"),
    ],
)
def test_net_measures_are_in_units_of_the_shop(text: str, amount: str, unit: str) -> None:
    (measure,) = said(f"(01){GTIN}{text}").measures
    assert measure == Measure(Decimal(amount), unit)
    assert unit in UNITS


@pytest.mark.parametrize("text", ["(3303)001250", "(3143)001250", "(3572)000100"])
def test_gross_weights_areas_and_ounces_of_either_kind_are_no_amount(text: str) -> None:
    assert said(f"(01){GTIN}{text}").measures == ()
