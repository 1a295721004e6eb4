"""GS1 check digits against published numbers, and a second implementation."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum import ean

from shopfloor.codes.gs1 import check_digit, checked_gtin, checked_sscc

CALCULATOR = 'GS1 Hong Kong, page "Check Digit Calculator"'
DICTIONARY = "GS1 Barcode Syntax Dictionary (Apache-2.0), unit test values"
DIGITAL_LINK = 'Wiki page "GS1 Digital Link URIs" of an open-source barcode writer'
BY_HAND = 'Page "How to manually calculate an EAN-13 Check Digit"'
NUMBER_THEORY = 'Page "EAN-13" of a number theory collection, 1996'
EPCIS = "GS1 EPCIS repository, example documents"


@pytest.mark.parametrize(
    ("body", "digit", "source"),
    [
        ("629104150021", "3", CALCULATOR),
        ("41600033610", "8", DICTIONARY),
        ("123456789012", "8", DICTIONARY),
        ("12345678901234567", "5", DICTIONARY),
        ("10614141123456789", "7", DIGITAL_LINK),
        ("0952123454321", "3", DIGITAL_LINK),
        ("501001708843", "9", BY_HAND),
        ("978096409230", "3", NUMBER_THEORY),
        ("0061414177777", "8", EPCIS),
    ],
)
def test_check_digits_are_the_published_ones(body: str, digit: str, source: str) -> None:
    assert check_digit(body) == digit, source


@pytest.mark.parametrize(
    ("number", "kept", "source"),
    [
        ("6291041500213", "06291041500213", CALCULATOR),
        ("416000336108", "00416000336108", DICTIONARY),
        ("00614141777778", "00614141777778", EPCIS),
    ],
)
def test_published_gtins_pass_and_are_kept_as_fourteen_digits(
    number: str, kept: str, source: str
) -> None:
    assert checked_gtin(number) == kept, source


@pytest.mark.parametrize("number", ["123456789012345675", "106141411234567897"])
def test_published_ssccs_pass(number: str) -> None:
    # GS1 Barcode Syntax Dictionary, unit test values; wiki page "GS1 Digital Link URIs".
    assert checked_sscc(number) == number


@given(body=st.text("0123456789", min_size=11, max_size=13))
def test_a_second_implementation_gives_the_same_digit(body: str) -> None:
    # python-stdnum, module stdnum.ean.
    assert check_digit(body) == ean.calc_check_digit(body)
