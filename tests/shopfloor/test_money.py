"""Money in micro, and shares that add up."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.errors import InvalidInputError
from shopfloor.money import (
    VALUE_MICRO_MAX,
    NothingToShareByError,
    money_shown,
    money_text,
    parse_money,
    share,
    split_by_weights,
)
from shopfloor.numerals import (
    NumberNegativeError,
    NumberTooLargeError,
    NumberTooPreciseError,
    NumberUnreadableError,
)

VALUES = st.integers(-VALUE_MICRO_MAX, VALUE_MICRO_MAX)
WEIGHTS = st.lists(st.integers(0, 10**15), min_size=1, max_size=12).filter(any)


@pytest.mark.parametrize(
    ("text", "micro"),
    [
        ("12.50", 12_500_000),
        ("0", 0),
        ("0.000001", 1),
        (".0425", 42_500),
        (" 7 ", 7_000_000),
        ("1.2500000000", 1_250_000),
        ("1000000000", VALUE_MICRO_MAX),
    ],
)
def test_a_price_becomes_whole_micro_exactly(text: str, micro: int) -> None:
    assert parse_money(text) == micro


@pytest.mark.parametrize(
    ("text", "refusal"),
    [
        ("0.0000001", NumberTooPreciseError),
        ("1000000000.000001", NumberTooLargeError),
        ("1e30", NumberTooLargeError),
        ("-1", NumberNegativeError),
        ("NaN", NumberUnreadableError),
        ("$5", NumberUnreadableError),
        ("", NumberUnreadableError),
    ],
)
def test_what_is_no_price_is_refused(text: str, refusal: type[InvalidInputError]) -> None:
    with pytest.raises(refusal):
        parse_money(text)


@pytest.mark.parametrize(
    ("micro", "text"),
    [
        (12_500_000, "12.50"),
        (0, "0.00"),
        (1, "0.000001"),
        (42_500, "0.0425"),
        (-1_250_000, "-1.25"),
        (-1, "-0.000001"),
        (7_000_000, "7.00"),
    ],
)
def test_micro_are_written_with_at_least_two_decimals(micro: int, text: str) -> None:
    assert money_text(micro) == text


@given(micro=VALUES)
def test_every_value_comes_back_from_its_text(micro: int) -> None:
    assert parse_money(money_text(micro), allow_negative=True) == micro


def test_a_share_is_rounded_down_in_size_and_the_whole_gets_all() -> None:
    assert [share(100, part, 3) for part in range(4)] == [0, 33, 66, 100]
    assert [share(-100, part, 3) for part in range(4)] == [0, -33, -66, -100]


@given(value=VALUES, takes=st.lists(st.integers(1, 1000), min_size=1, max_size=20))
def test_a_lot_taken_in_parts_ends_worth_exactly_nothing(value: int, takes: list[int]) -> None:
    here, worth, taken = sum(takes), value, 0
    for part in takes:
        out = share(worth, part, here)
        here, worth, taken = here - part, worth - out, taken + out
    assert (here, worth, taken) == (0, 0, value)


@given(value=VALUES, part=st.integers(0, 10**15), rest=st.integers(0, 10**15))
def test_a_share_is_less_than_one_micro_below_the_exact_one(
    value: int, part: int, rest: int
) -> None:
    whole = part + rest + 1
    exact = Fraction(abs(value) * part, whole)
    assert 0 <= exact - abs(share(value, part, whole)) < 1


@pytest.mark.parametrize(
    ("value", "weights", "parts"),
    [
        (100, [1, 1, 1], [33, 33, 34]),
        (-100, [1, 1, 1], [-33, -33, -34]),
        (100, [1, 2, 0], [33, 67, 0]),
        (1, [5, 5], [0, 1]),
        (0, [3, 4], [0, 0]),
        (7, [9], [7]),
    ],
)
def test_a_value_is_split_and_the_last_with_a_weight_takes_the_rest(
    value: int, weights: list[int], parts: list[int]
) -> None:
    assert split_by_weights(value, weights) == parts


@given(value=VALUES, weights=WEIGHTS)
def test_the_parts_of_a_value_add_up_to_it(value: int, weights: list[int]) -> None:
    parts = split_by_weights(value, weights)
    assert sum(parts) == value
    assert all(part * value >= 0 for part in parts)
    assert all(part == 0 for part, weight in zip(parts, weights, strict=True) if weight == 0)


@given(value=VALUES, weights=WEIGHTS)
def test_no_part_is_further_from_its_exact_share_than_one_micro_for_each_part(
    value: int, weights: list[int]
) -> None:
    exact = [Fraction(value * weight, sum(weights)) for weight in weights]
    parts = split_by_weights(value, weights)
    assert all(abs(p - e) < len(weights) for p, e in zip(parts, exact, strict=True))


@pytest.mark.parametrize("weights", [[], [0], [0, 0]])
def test_a_value_cannot_be_split_over_nothing(weights: list[int]) -> None:
    with pytest.raises(NothingToShareByError) as refused:
        split_by_weights(100, weights)
    assert refused.value.facts == {"value": "0.0001"}


@pytest.mark.parametrize(
    ("value_micro", "shown"),
    [
        (0, "0.00"),
        (4_999, "0.00"),
        (5_000, "0.01"),
        (-4_999, "0.00"),
        (-5_000, "-0.01"),
        (1_234_567_890_123, "1,234,567.89"),
    ],
)
def test_a_page_shows_two_decimals_rounded_half_up(value_micro: int, shown: str) -> None:
    assert money_shown(value_micro) == shown
