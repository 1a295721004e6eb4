"""One amount in another unit, and the price of a pack."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.catalog.rules import converted, pack_price_micro
from shopfloor.units import (
    AmountTooLargeError,
    Dimension,
    FractionOfPieceError,
    Measure,
    UnitMismatchError,
)

MASS = Measure(Dimension.MASS)
HOOKS = Measure(Dimension.COUNT, piece_mass_mg=Decimal(350))
PAINT = Measure(Dimension.VOLUME, density_mg_per_ul=Decimal("1.25"))


# Factors: NIST SP 811 (2008), appendix B.8: 1 lb = 453.59237 g, 1 oz = 28.349523125 g,
# 1 US fl oz = 29.5735295625 mL, all exact there or by definition from exact ones.
@pytest.mark.parametrize(
    ("amount", "unit", "into", "item", "expected"),
    [
        ("1", "lb", "g", MASS, "453.59237"),
        ("1", "lb", "oz", MASS, "16"),
        ("1", "ton_us", "kg", MASS, "907.18474"),
        ("1", "oz", "g", MASS, "28.349523125"),
        ("1", "gal", "fl_oz", PAINT, "128"),
        ("1", "fl_oz", "mL", PAINT, "29.5735295625"),
        ("12", "gross", "dozen", HOOKS, "144"),
    ],
)
def test_within_one_kind_every_digit_is_there(
    amount: str, unit: str, into: str, item: Measure, expected: str
) -> None:
    found = converted(amount=Decimal(amount), unit=unit, into=into, item=item)
    assert (str(found.amount), found.is_exact) == (expected, True)


def test_the_ledger_keeps_whole_base_units_of_it() -> None:
    found = converted(amount=Decimal(1), unit="lb", into="oz", item=MASS)
    assert found.kept_base == 453_592


def test_a_density_turns_volume_into_weight_and_back() -> None:
    to_weight = converted(amount=Decimal(200), unit="mL", into="g", item=PAINT)
    back = converted(amount=Decimal(250), unit="g", into="mL", item=PAINT)
    assert (str(to_weight.amount), str(back.amount)) == ("250", "200")


def test_a_piece_mass_turns_weight_into_pieces_and_what_is_not_whole_is_said_to_be_rounded() -> (
    None
):
    exact = converted(amount=Decimal(35), unit="g", into="each", item=HOOKS)
    odd = converted(amount=Decimal(100), unit="g", into="each", item=HOOKS)
    assert exact == (Decimal(100), True, 100)
    # 100,000 mg / 350 mg = 285.714285...
    assert odd == (Decimal("285.714285714286"), False, 286)


@pytest.mark.parametrize(
    ("unit", "into", "item"),
    [
        ("g", "mL", MASS),
        ("mL", "g", MASS),
        ("each", "mL", HOOKS),
        ("each", "g", Measure(Dimension.COUNT)),
        ("mm", "g", MASS),
    ],
)
def test_across_kinds_nothing_is_guessed(unit: str, into: str, item: Measure) -> None:
    with pytest.raises(UnitMismatchError):
        converted(amount=Decimal(1), unit=unit, into=into, item=item)


def test_part_of_a_piece_and_more_than_any_shop_holds_are_refused() -> None:
    with pytest.raises(FractionOfPieceError):
        converted(amount=Decimal("0.5"), unit="each", into="g", item=HOOKS)
    with pytest.raises(AmountTooLargeError):
        converted(amount=Decimal(10**13), unit="kg", into="g", item=MASS)


@pytest.mark.parametrize(("packs", "expected"), [(1, None), (2, 45), (4, 45), (5, 40), (5000, 40)])
def test_the_last_price_break_that_is_reached_counts(packs: int, expected: int | None) -> None:
    assert pack_price_micro(packs, [(2, 45), (5, 40)]) == expected


def test_an_offer_without_prices_has_none() -> None:
    assert pack_price_micro(1, []) is None
