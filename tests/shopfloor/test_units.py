"""Conversion: exact factors, one rounding, and refusals that say what is missing."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.numerals import NumberUnreadableError
from shopfloor.units import (
    AMOUNT_BASE_MAX,
    BASE_UNIT,
    UNITS,
    AmountTooLargeError,
    Dimension,
    FractionOfPieceError,
    Measure,
    MeasureError,
    TareAboveGrossError,
    UnitMismatchError,
    UnknownUnitError,
    display,
    from_base,
    parse_amount,
    pieces_by_weight,
    to_base,
    units_of,
)

RESIN = Measure(Dimension.MASS)
PAINT = Measure(Dimension.VOLUME, density_mg_per_ul=Decimal("1.25"))
ADHESIVE = Measure(Dimension.MASS, density_mg_per_ul=Decimal("1.1"))
SPLIT_RING = Measure(Dimension.COUNT, piece_mass_mg=Decimal("38.5"))
LURE = Measure(Dimension.COUNT)
WIRE = Measure(Dimension.LENGTH)
REGRIND = Measure(Dimension.MASS, piece_mass_mg=Decimal(4000))

CONTINUOUS = [name for name, unit in UNITS.items() if unit.dimension is not Dimension.COUNT]
AMOUNTS_BASE = st.integers(-AMOUNT_BASE_MAX, AMOUNT_BASE_MAX)


@pytest.mark.parametrize(
    ("amount", "unit", "item", "qty_base"),
    [
        ("2.5", "kg", RESIN, 2_500_000),
        ("1", "lb", RESIN, 453_592),
        ("-1", "lb", RESIN, -453_592),
        ("1", "ton_us", RESIN, 907_184_740),
        ("1", "gal", PAINT, 3_785_412),
        ("0.5", "dozen", LURE, 6),
        ("3", "gross", LURE, 432),
        ("1", "ft", WIRE, 305),
        ("1", "in", WIRE, 25),
        ("0.5", "mg", RESIN, 0),
        ("1.5", "mg", RESIN, 2),
        ("2.5", "mg", RESIN, 2),
        ("0", "each", LURE, 0),
    ],
)
def test_an_amount_becomes_whole_base_units_rounded_half_to_even(
    amount: str, unit: str, item: Measure, qty_base: int
) -> None:
    assert to_base(amount=Decimal(amount), unit=unit, item=item) == qty_base


@pytest.mark.parametrize(
    ("amount", "unit", "item", "qty_base"),
    [
        ("1", "mL", ADHESIVE, 1100),  # 1000 uL at 1.1 mg/uL
        ("1", "kg", PAINT, 800_000),  # 1,000,000 mg at 1.25 mg/uL
        ("1", "kg", SPLIT_RING, 25_974),  # 25,974.03 pieces
        ("24", "each", REGRIND, 96_000),
    ],
)
def test_density_and_piece_mass_bridge_two_dimensions(
    amount: str, unit: str, item: Measure, qty_base: int
) -> None:
    assert to_base(amount=Decimal(amount), unit=unit, item=item) == qty_base


@pytest.mark.parametrize(
    ("unit", "item", "missing"),
    [
        ("kg", LURE, "piece mass"),
        ("each", RESIN, "piece mass"),
        ("L", RESIN, "density"),
        ("lb", Measure(Dimension.VOLUME), "density"),
        ("m", RESIN, None),
        ("kg", WIRE, None),
        ("each", PAINT, None),
        ("L", SPLIT_RING, None),
    ],
)
def test_a_unit_of_another_dimension_is_refused_and_says_what_is_missing(
    unit: str, item: Measure, missing: str | None
) -> None:
    with pytest.raises(UnitMismatchError) as refused:
        to_base(amount=Decimal(1), unit=unit, item=item)
    assert refused.value.facts["missing"] == missing
    assert (missing or "nothing bridges") in refused.value.detail
    with pytest.raises(UnitMismatchError):
        from_base(qty_base=1, unit=unit, item=item)


@pytest.mark.parametrize(
    ("amount", "unit"), [("2.5", "each"), ("0.3", "dozen"), ("1.01", "gross"), ("-0.1", "each")]
)
@pytest.mark.parametrize("item", [LURE, REGRIND])
def test_a_fraction_of_a_piece_is_refused(amount: str, unit: str, item: Measure) -> None:
    with pytest.raises(FractionOfPieceError):
        to_base(amount=Decimal(amount), unit=unit, item=item)


def test_an_unknown_unit_is_refused_with_the_list_of_those_that_fit() -> None:
    with pytest.raises(UnknownUnitError) as refused:
        to_base(amount=Decimal(1), unit="stone", item=LURE)
    assert refused.value.facts == {"unit": "stone", "units": ["each", "dozen", "gross"]}
    assert "each, dozen, gross" in refused.value.detail


def test_the_units_of_an_item_include_those_its_density_or_piece_mass_opens() -> None:
    assert units_of(WIRE) == ("mm", "cm", "m", "in", "ft")
    assert units_of(SPLIT_RING) == (
        *("each", "dozen", "gross"),
        *("mg", "g", "kg", "oz", "lb", "ton_us"),
    )
    assert set(units_of(PAINT)) - set(units_of(Measure(Dimension.VOLUME))) == {
        *("mg", "g", "kg", "oz", "lb", "ton_us")
    }


@pytest.mark.parametrize("amount", ["1000000000.1", "1E+15", "1E+999999", "-1E+999999"])
def test_an_amount_beyond_what_a_shop_can_hold_is_refused(amount: str) -> None:
    with pytest.raises(AmountTooLargeError):
        to_base(amount=Decimal(amount), unit="kg", item=RESIN)


def test_the_largest_amount_is_taken() -> None:
    assert to_base(amount=Decimal(10**9), unit="kg", item=RESIN) == AMOUNT_BASE_MAX
    assert AMOUNT_BASE_MAX < 2**63 / 1000


@pytest.mark.parametrize("impossible", ["0", "-1", "NaN", "Infinity"])
def test_a_piece_mass_or_density_not_above_zero_is_refused(impossible: str) -> None:
    with pytest.raises(MeasureError):
        Measure(Dimension.COUNT, piece_mass_mg=Decimal(impossible))
    with pytest.raises(MeasureError):
        Measure(Dimension.MASS, density_mg_per_ul=Decimal(impossible))


@pytest.mark.parametrize(
    ("qty_base", "unit", "item", "amount"),
    [
        (2_500_000, "kg", RESIN, "2.5"),
        (-2_500_000, "kg", RESIN, "-2.5"),
        (0, "kg", RESIN, "0"),
        (10_000_000_000, "kg", RESIN, "10000"),
        (1, "kg", RESIN, "0.000001"),
        (18, "dozen", LURE, "1.5"),
        (7, "dozen", LURE, "0.583333333333"),
        (1, "lb", RESIN, "0.000002"),
        (2, "kg", SPLIT_RING, "0.000077"),
    ],
)
def test_base_units_become_the_shortest_amount_that_reads_back_or_one_of_twelve_places(
    qty_base: int, unit: str, item: Measure, amount: str
) -> None:
    assert f"{from_base(qty_base=qty_base, unit=unit, item=item):f}" == amount


@given(qty_base=AMOUNTS_BASE, unit=st.sampled_from(CONTINUOUS))
def test_every_amount_comes_back_from_every_unit(qty_base: int, unit: str) -> None:
    item = Measure(UNITS[unit].dimension)
    amount = from_base(qty_base=qty_base, unit=unit, item=item)
    assert to_base(amount=amount, unit=unit, item=item) == qty_base


@given(
    pieces=st.integers(0, 10**6),
    piece_mass_mg=st.decimals("0.1", "1000000", places=3),
    unit=st.sampled_from(["mg", "g", "kg", "oz", "lb", "ton_us"]),
)
def test_pieces_come_back_from_their_own_weight(
    pieces: int, piece_mass_mg: Decimal, unit: str
) -> None:
    item = Measure(Dimension.COUNT, piece_mass_mg=piece_mass_mg)
    amount = from_base(qty_base=pieces, unit=unit, item=item)
    assert to_base(amount=amount, unit=unit, item=item) == pieces


@given(amount=st.decimals("-100000", "100000", places=4), unit=st.sampled_from(CONTINUOUS))
def test_an_amount_is_never_more_than_half_a_base_unit_off(amount: Decimal, unit: str) -> None:
    qty_base = to_base(amount=amount, unit=unit, item=Measure(UNITS[unit].dimension))
    assert abs(qty_base - Fraction(amount) * UNITS[unit].factor) <= Fraction(1, 2)


@pytest.mark.parametrize(
    ("qty_base", "unit", "item", "text"),
    [
        (2_500_000, "kg", RESIN, "2.5 kg"),
        (453_592, "lb", RESIN, "1 lb"),
        (1_234_567, "kg", RESIN, "1.234567 kg"),
        (3_785_412, "gal", PAINT, "1 gal"),
        (29_574, "fl_oz", PAINT, "1 fl oz"),
        (-500, "g", RESIN, "-0.5 g"),
        (0, "kg", RESIN, "0 kg"),
        (1200, "each", LURE, "1,200 pieces"),
        (24, "dozen", LURE, "2 dozen"),
        (7, "dozen", LURE, "7 pieces"),
        (100, "gross", LURE, "100 pieces"),
        (1, "each", LURE, "1 piece"),
        (25, "in", WIRE, "1 in"),
        (907_184_740, "ton_us", RESIN, "1 short ton"),
        (100, "g", SPLIT_RING, "3.85 g"),
    ],
)
def test_amounts_are_shown_short_and_with_their_unit(
    qty_base: int, unit: str, item: Measure, text: str
) -> None:
    assert display(qty_base, unit, item) == text


@given(data=st.data(), unit=st.sampled_from(CONTINUOUS))
def test_a_typed_amount_is_shown_as_it_was_typed(data: st.DataObject, unit: str) -> None:
    places = UNITS[unit].decimals
    typed = data.draw(st.decimals("-1000", "1000", places=places).filter(bool))
    item = Measure(UNITS[unit].dimension)
    shown = display(to_base(amount=typed, unit=unit, item=item), unit, item)
    assert Decimal(shown.split(" ")[0].replace(",", "")) == typed


@pytest.mark.parametrize("unit", UNITS)
def test_the_last_place_shown_is_worth_a_base_unit_or_more(unit: str) -> None:
    assert UNITS[unit].factor / 10 ** UNITS[unit].decimals >= 1


def test_every_dimension_has_a_base_unit_with_factor_one() -> None:
    assert {UNITS[BASE_UNIT[dimension]][:2] for dimension in Dimension} == {
        (dimension, Fraction(1)) for dimension in Dimension
    }


def test_pieces_are_counted_by_weight_to_the_nearest_with_what_is_left_over() -> None:
    assert pieces_by_weight(10_020, 500, Decimal("38.5")) == (247, Decimal("10.5"))
    assert pieces_by_weight(10_040, 500, Decimal("38.5")) == (248, Decimal(-8))


def test_an_empty_container_holds_no_piece_and_a_heavier_tare_is_refused() -> None:
    assert pieces_by_weight(500, 500, Decimal("38.5")) == (0, Decimal(0))
    with pytest.raises(TareAboveGrossError) as refused:
        pieces_by_weight(500, 501, Decimal("38.5"))
    assert refused.value.facts == {"gross_mg": 500, "tare_mg": 501}


def test_counting_by_weight_needs_a_piece_mass_above_zero() -> None:
    with pytest.raises(MeasureError):
        pieces_by_weight(500, 0, Decimal(0))


@given(
    gross_mg=st.integers(0, AMOUNT_BASE_MAX),
    tare_share=st.integers(0, 100),
    piece_mass_mg=st.decimals("0.01", "1000000", places=4),
)
def test_pieces_remainder_and_tare_make_up_the_gross_weight(
    gross_mg: int, tare_share: int, piece_mass_mg: Decimal
) -> None:
    tare_mg = gross_mg * tare_share // 100
    weighed = pieces_by_weight(gross_mg, tare_mg, piece_mass_mg)
    left = Fraction(weighed.remainder_mg)
    assert weighed.pieces * Fraction(piece_mass_mg) + left + tare_mg == gross_mg
    assert abs(left) <= Fraction(piece_mass_mg) / 2


def test_a_typed_amount_is_read_or_refused_by_name() -> None:
    assert parse_amount(" 2.50 ") == Decimal("2.50")
    assert parse_amount("-2", allow_negative=True) == Decimal(-2)
    with pytest.raises(NumberUnreadableError, match="The amount is empty"):
        parse_amount("")


@pytest.mark.parametrize(
    ("amount", "unit", "dimension"),
    [
        ("50", "lb", Dimension.MASS),
        ("16", "oz", Dimension.MASS),
        ("0.3", "oz", Dimension.MASS),
        ("32", "fl_oz", Dimension.VOLUME),
        ("1", "gal", Dimension.VOLUME),
        ("7.25", "in", Dimension.LENGTH),
    ],
)
def test_what_was_written_in_us_units_reads_back_as_it_was_written(
    amount: str, unit: str, dimension: Dimension
) -> None:
    item = Measure(dimension)
    qty_base = to_base(amount=Decimal(amount), unit=unit, item=item)
    read = from_base(qty_base=qty_base, unit=unit, item=item)
    assert to_base(amount=read, unit=unit, item=item) == qty_base
    assert len(f"{read:f}") <= len(amount)
