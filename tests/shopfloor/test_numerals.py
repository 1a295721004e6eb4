"""Numbers as people and programs write them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.numerals import (
    VALUE_MAX,
    NumberNegativeError,
    NumberTooLargeError,
    NumberTooPreciseError,
    NumberUnreadableError,
    parse_number,
)


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("12", "12"),
        (" 12.50\n", "12.50"),
        (".5", "0.5"),
        ("5.", "5"),
        ("+3", "3"),
        ("2E+3", "2000"),
        ("25e-1", "2.5"),
        ("0", "0"),
        ("-0.00", "0"),
        ("0e999", "0"),
        ("1000000000000000", "1000000000000000"),
        ("0.000001", "0.000001"),
        ("123456789012.345678", "123456789012.345678"),
    ],
)
def test_a_plain_number_is_read_exactly_and_written_out(text: str, plain: str) -> None:
    assert str(parse_number(text, what="amount")) == plain


@pytest.mark.parametrize(
    "text",
    [
        *("", "   ", "NaN", "sNaN", "inf", "-Infinity", "abc", "1,500", "1_500", "1 500", "--1"),
        *("1.2.3", ".", "e5", "1e", "0x10", "\u0661\u0662", "\u00bd", "1e9999", "5 kg", "1" * 41),
    ],
)
def test_what_is_not_a_plain_number_is_refused(text: str) -> None:
    with pytest.raises(NumberUnreadableError):
        parse_number(text, what="amount")


@pytest.mark.parametrize("text", ["1000000000000001", "1e16", "9e999", "-1e16"])
def test_a_number_too_large_is_refused_however_it_is_written(text: str) -> None:
    with pytest.raises(NumberTooLargeError):
        parse_number(text, what="amount", allow_negative=True)


@pytest.mark.parametrize(
    "text", ["1234567890.123456789", "1e-19", "1e-999", "1.000000000000000000"]
)
def test_more_than_eighteen_digits_are_refused(text: str) -> None:
    with pytest.raises(NumberTooPreciseError):
        parse_number(text, what="amount")


def test_a_number_below_zero_is_refused_unless_allowed() -> None:
    assert parse_number("-2.5", what="amount", allow_negative=True) == Decimal("-2.5")
    with pytest.raises(NumberNegativeError) as refused:
        parse_number("-2.5", what="price")
    assert refused.value.detail == "The price is below zero."
    assert refused.value.facts == {"what": "price", "text": "-2.5"}


@given(number=st.decimals(min_value=-(10**14), max_value=10**14, places=3))
def test_every_written_number_is_read_as_itself(number: Decimal) -> None:
    read = parse_number(f"{number:f}", what="amount", allow_negative=True)
    assert read == number
    assert "E" not in str(read)


@given(text=st.text("0123456789.+-eE_, Naif", max_size=12))
def test_any_text_is_a_finite_number_within_bounds_or_refused(text: str) -> None:
    try:
        number = parse_number(text, what="amount", allow_negative=True)
    except (NumberUnreadableError, NumberTooLargeError, NumberTooPreciseError):
        return
    assert number.is_finite()
    assert abs(number) <= VALUE_MAX
