"""EPC URIs are made of sound numbers of the right company only."""

from __future__ import annotations

import pytest

from shopfloor.codes.errors import CheckDigitError, CompanyPrefixError, Gs1ValueError
from shopfloor.codes.gs1.numbers import CompanyPrefix
from shopfloor.codes.gs1.urns import box_urn, lot_urn

DEMO = CompanyPrefix("9521234")


def test_signs_that_would_end_the_name_are_percent_encoded_and_no_others() -> None:
    assert lot_urn(gtin="09521234000013", lot_code="\"%&/<>?!'()*+,-.:;=_", prefix=DEMO) == (
        "urn:epc:class:lgtin:9521234.000001.%22%25%26%2F%3C%3E%3F!'()*+,-.:;=_"
    )


def test_a_number_of_another_company_is_refused() -> None:
    with pytest.raises(CompanyPrefixError):
        lot_urn(gtin="09521234000013", lot_code="A", prefix=CompanyPrefix("9521235"))
    with pytest.raises(CompanyPrefixError):
        box_urn(sscc="395212340000000014", prefix=CompanyPrefix("3952123"))


def test_what_no_symbol_would_carry_is_no_name_either() -> None:
    with pytest.raises(CheckDigitError):
        box_urn(sscc="395212340000000015", prefix=DEMO)
    with pytest.raises(Gs1ValueError):
        lot_urn(gtin="09521234000013", lot_code="A B", prefix=DEMO)
