"""GTIN and SSCC: the right length, digits only, and a check digit that fits."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.codes.errors import (
    CheckDigitError,
    CompanyPrefixError,
    Gs1NumberError,
    RestrictedNumberError,
)
from shopfloor.codes.gs1.numbers import (
    CompanyPrefix,
    check_digit,
    checked_gtin,
    checked_sscc,
    is_restricted,
)


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


# The demonstration prefix: "952" and four digits more.
DEMO = CompanyPrefix("9521234")


def test_a_gtin_is_made_of_prefix_and_item_reference() -> None:
    assert DEMO.gtin(1) == "09521234000013"
    assert DEMO.gtin(1, indicator=3) == "39521234000014"
    assert DEMO.is_demonstration
    assert not CompanyPrefix("1234567").is_demonstration


def test_an_sscc_is_made_of_extension_prefix_and_serial_reference() -> None:
    assert DEMO.sscc(1, extension=3) == "395212340000000014"
    assert DEMO.sscc(999_999_999) == "095212349999999995"


@given(prefix=st.text("13579", min_size=4, max_size=12), data=st.data(), digit=st.integers(0, 9))
def test_numbers_of_a_prefix_pass_their_own_check(
    prefix: str, data: st.DataObject, digit: int
) -> None:
    licensed = CompanyPrefix(prefix)
    item = data.draw(st.integers(0, 10 ** (12 - len(prefix)) - 1))
    gtin = licensed.gtin(item, indicator=digit)
    assert checked_gtin(gtin) == gtin
    assert gtin[1:-1] == (prefix + str(item).rjust(12 - len(prefix), "0"))[:12]
    sscc = licensed.sscc(item, extension=digit)
    assert checked_sscc(sscc) == sscc
    assert sscc[1:-1] == prefix + str(item).rjust(16 - len(prefix), "0")


def test_a_reference_with_more_digits_than_the_prefix_leaves_is_refused() -> None:
    assert DEMO.gtin(99_999) == "09521234999997"
    with pytest.raises(Gs1NumberError):
        DEMO.gtin(100_000)
    with pytest.raises(Gs1NumberError):
        DEMO.sscc(1_000_000_000)


@pytest.mark.parametrize("digits", ["", "123", "1234567890123", "12a4567", " 9521234"])
def test_what_is_no_company_prefix_is_refused(digits: str) -> None:
    with pytest.raises(CompanyPrefixError):
        CompanyPrefix(digits)


@pytest.mark.parametrize("digits", ["0212345", "0400000", "2012345", "2912345"])
def test_nobody_licenses_a_prefix_of_restricted_circulation(digits: str) -> None:
    with pytest.raises(RestrictedNumberError):
        CompanyPrefix(digits)


@pytest.mark.parametrize(
    ("number", "restricted"),
    [
        ("00200000000005", True),  # a U.P.C. that begins with 2
        ("00400000000015", True),
        ("02000000000015", True),
        ("02999999999995", True),
        ("12999999999992", True),
        ("03000000000014", False),
        ("01999999999993", False),
        ("00300000000014", False),
        ("00000020000004", True),  # a GTIN-8
        ("00000000000017", True),
        ("00000030000003", False),
        ("020000000000000014", True),
        ("395212340000000014", False),
    ],
)
def test_numbers_of_restricted_circulation_are_known(number: str, restricted: bool) -> None:  # noqa: FBT001
    assert is_restricted(number) is restricted
