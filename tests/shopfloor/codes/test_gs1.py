"""GTIN and SSCC: the right length, digits only, and a check digit that fits."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.codes.errors import CheckDigitError, Gs1NumberError
from shopfloor.codes.gs1 import check_digit, checked_gtin, checked_sscc


@given(length=st.sampled_from([8, 12, 13, 14]), data=st.data())
def test_a_gtin_passes_only_with_its_own_check_digit(length: int, data: st.DataObject) -> None:
    body = data.draw(st.text("0123456789", min_size=length - 1, max_size=length - 1))
    right = check_digit(body)
    wrong = data.draw(st.sampled_from("0123456789").filter(lambda digit: digit != right))
    assert checked_gtin(f" {body}{right} ") == (body + right).zfill(14)
    with pytest.raises(CheckDigitError):
        checked_gtin(body + wrong)


@given(data=st.data(), body=st.text("0123456789", min_size=17, max_size=17))
def test_every_single_wrong_digit_of_an_sscc_is_noticed(data: st.DataObject, body: str) -> None:
    number = body + check_digit(body)
    assert checked_sscc(number) == number
    place = data.draw(st.integers(0, 17))
    wrong = data.draw(st.sampled_from("0123456789").filter(lambda digit: digit != number[place]))
    with pytest.raises(CheckDigitError):
        checked_sscc(number[:place] + wrong + number[place + 1 :])


@pytest.mark.parametrize(
    "text", ["", "1234567", "123456789", "12345678901", "9521234000O13", "952123400001\u0663"]
)
def test_what_has_not_the_digits_of_a_gtin_is_refused(text: str) -> None:
    with pytest.raises(Gs1NumberError):
        checked_gtin(text)


@pytest.mark.parametrize("text", ["", "12345678901234567", "1234567890123456789", "9521234000013"])
def test_what_has_not_the_digits_of_an_sscc_is_refused(text: str) -> None:
    with pytest.raises(Gs1NumberError):
        checked_sscc(text)


@pytest.mark.parametrize("body", ["", "12A", "\u0661\u0662", " 1"])
def test_a_check_digit_is_made_of_digits_only(body: str) -> None:
    with pytest.raises(Gs1NumberError):
        check_digit(body)
