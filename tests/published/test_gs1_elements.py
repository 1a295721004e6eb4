"""GS1 element strings, dates and refusals against published and separately computed values.

`gs1_values.json` names the source of each. Where it says "computed", the value is no one's
publication: it was made by other code than ours and read back by a second library.
"""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from biip.gs1_digital_link_uris import GS1DigitalLinkURI
from biip.gs1_messages import GS1Message
from hypothesis import given
from stdnum import ean

from shopfloor.codes.errors import (
    CheckDigitError,
    Gs1IdentifierUnknownError,
    Gs1PartnersError,
    Gs1TextError,
    Gs1ValueError,
    RestrictedNumberError,
)
from shopfloor.codes.gs1.dates import gs1_date
from shopfloor.codes.gs1.elements import FNC1, Element, ElementString, element_string, read_elements
from shopfloor.codes.gs1.links import digital_link, read_digital_link
from shopfloor.codes.gs1.numbers import CompanyPrefix, check_digit, checked_gtin, checked_sscc
from shopfloor.codes.gs1.partners import check_together
from shopfloor.codes.gs1.urns import box_urn, lot_urn
from shopfloor.codes.symbols import code128_check, code128_values, code128_widths
from shopfloor.errors import ShopError
from tests.shopfloor.codes.element_strings import any_elements

VALUES: list[dict[str, Any]] = json.loads(
    Path(__file__).with_name("gs1_values.json").read_text(encoding="utf-8")
)["values"]


def of_kind(kind: str) -> list[Any]:
    return [pytest.param(value, id=value["id"]) for value in VALUES if value["kind"] == kind]


def text_of(value: dict[str, Any], name: str) -> str:
    return str(value[name]).replace("{GS}", FNC1).replace("{FNC1}", FNC1)


def test_every_kind_of_value_has_its_test_here() -> None:
    assert {value["kind"] for value in VALUES} == {
        "check_digit",
        "code128",
        "date",
        "digital_link",
        "element_string",
        "epc_uri",
        "invalid",
    }


@pytest.mark.parametrize("value", of_kind("check_digit"))
def test_check_digits_are_those_of_the_source(value: dict[str, Any]) -> None:
    assert check_digit(value["without_check_digit"]) == value["expected"], value["source"]
    full = value["full"]
    kept = checked_sscc(full) if value["type"] == "SSCC" else checked_gtin(full)
    assert kept == full.zfill(len(kept))


@pytest.mark.parametrize("value", of_kind("check_digit"))
def test_python_stdnum_gives_the_same_check_digit(value: dict[str, Any]) -> None:
    body = value["without_check_digit"]
    assert ean.calc_check_digit(body) == check_digit(body)


@pytest.mark.parametrize("value", of_kind("code128"))
def test_code_128_characters_have_the_check_of_the_source(value: dict[str, Any]) -> None:
    assert code128_check(tuple(value["symbols_without_check"])) == value["expected"]
    # One encoding of several: ours may be another, but never a longer one.
    ours = code128_values(text_of(value, "data"))
    assert len(ours) <= len(value["symbols_without_check"]) + 2
    assert sum(code128_widths(text_of(value, "data"))) <= value.get("modules", 999)


@pytest.mark.parametrize("value", of_kind("date"))
def test_days_fall_into_the_century_of_the_source(value: dict[str, Any]) -> None:
    day = gs1_date(value["yymmdd"], reference_year=value["reference_year"])
    assert day == date.fromisoformat(value["expected"]), value["source"]


@pytest.mark.parametrize("value", of_kind("element_string"))
def test_element_strings_are_read_and_built_as_the_source_says(value: dict[str, Any]) -> None:
    expected = [(part["ai"], part["value"]) for part in value["expected"]]
    read = read_elements(text_of(value, "raw"))
    assert [(element.ai, element.value) for element in read.elements] == expected
    assert (read.data, read.human) == (text_of(value, "raw"), value["hri"])
    assert read_elements(value["hri"]) == read
    assert (len(read.data), read.fits_gs1_128) == (value["chars"], value["gs1_128_allowed"])


@pytest.mark.parametrize("value", of_kind("element_string"))
def test_days_and_measures_in_element_strings_are_those_of_the_source(
    value: dict[str, Any],
) -> None:
    for part in value["expected"]:
        if "date" in part:
            day = gs1_date(part["value"], reference_year=2026)
            assert day.isoformat() == part["date"]
        if "decimal" in part:
            assert str(Element(part["ai"], part["value"]).number) == part["decimal"]


@pytest.mark.parametrize("value", of_kind("element_string"))
def test_elements_keep_company_where_the_source_says_so(value: dict[str, Any]) -> None:
    read = read_elements(text_of(value, "raw"))
    box = element_string({"00": "395212340000000014"})
    alone = "pairing_note" not in value
    check_together(*([read] if alone else [box, read]))


@pytest.mark.parametrize(
    "value", [param for param in of_kind("element_string") if "pairing_note" in param.values[0]]
)
def test_contents_of_a_box_without_the_number_of_the_box_are_refused(
    value: dict[str, Any],
) -> None:
    with pytest.raises(Gs1PartnersError):
        check_together(read_elements(text_of(value, "raw")))


@pytest.mark.parametrize("value", of_kind("element_string"))
def test_biip_reads_the_same_elements(value: dict[str, Any]) -> None:
    theirs = GS1Message.parse(text_of(value, "raw")).element_strings
    ours = read_elements(text_of(value, "raw"))
    assert [(part.ai.ai, part.value) for part in theirs] == [
        (element.ai, element.value) for element in ours.elements
    ]


# What each of the source's refused strings is refused for; verdicts agree with a second writer.
REFUSALS: dict[str, type[ShopError]] = {
    "bad check digit": CheckDigitError,
    "bad SSCC check digit": CheckDigitError,
    "month 13": Gs1ValueError,
    "29 February in a non-leap year": Gs1ValueError,
    "31 April": Gs1ValueError,
    "lot without item key": Gs1PartnersError,
    "(02) without (37)": Gs1PartnersError,
    "(37) with (01)": Gs1PartnersError,
    "(02) together with (01)": Gs1PartnersError,
    "space is not in character set 82": Gs1ValueError,
    "# is not in character set 82": Gs1ValueError,
    "310n only allows n = 0..5": Gs1IdentifierUnknownError,
    "weight not 6 digits": Gs1ValueError,
    "count longer than 8 digits": Gs1ValueError,
    "non-ASCII character": Gs1ValueError,
    "count without item key": Gs1PartnersError,
    "unknown application identifier": Gs1IdentifierUnknownError,
    "plain Code 128 symbology identifier must not be treated as GS1": Gs1TextError,
}
SWALLOWED = "invalid-027"


@pytest.mark.parametrize("value", [param for param in of_kind("invalid") if param.id != SWALLOWED])
def test_what_the_rules_forbid_is_refused_for_its_own_reason(value: dict[str, Any]) -> None:
    with pytest.raises(ShopError) as refused:
        check_together(read_elements(value.get("hri") or value["raw"]))
    assert type(refused.value) is REFUSALS[value["reason"]]


def test_a_missing_separator_makes_the_rest_part_of_the_lot_and_no_lot_of_its_own() -> None:
    (value,) = (value for value in VALUES if value["id"] == SWALLOWED)
    assert read_elements(value["raw"]).value("10") == "AX837346"


@pytest.mark.parametrize("value", of_kind("digital_link"))
def test_links_are_read_and_built_as_the_source_says(value: dict[str, Any]) -> None:
    link = read_digital_link(value["uri"])
    assert link is not None
    expected = [(part["ai"], part["value"]) for part in value["expected"]]
    assert [(element.ai, element.value) for element in link.elements.elements] == expected
    assert link.canonical == value["uri"], value["source"]


@given(elements=any_elements(length_max=120))
def test_biip_reads_the_links_that_we_build(elements: ElementString) -> None:
    theirs = GS1DigitalLinkURI.parse(digital_link(elements, stem="https://shop.example"))
    assert {(part.ai.ai, part.value) for part in theirs.element_strings} == {
        (element.ai, element.value) for element in elements.elements
    }


@given(elements=any_elements())
def test_biip_reads_the_element_strings_that_we_build(elements: ElementString) -> None:
    theirs = GS1Message.parse(elements.data).element_strings
    assert [(part.ai.ai, part.value) for part in theirs] == [
        (element.ai, element.value) for element in elements.elements
    ]


# Its "prefix" 23456789 is of restricted circulation, which no SSCC may have.
NOBODYS = "epc_uri-009"


@pytest.mark.parametrize("value", [param for param in of_kind("epc_uri") if param.id != NOBODYS])
def test_names_for_events_are_those_of_the_source(value: dict[str, Any]) -> None:
    number = value.get("gtin") or value["sscc"]
    prefix = CompanyPrefix(number[1 : 1 + value["company_prefix_length"]])
    name = (
        lot_urn(gtin=number, lot_code=value["lot"], prefix=prefix)
        if "gtin" in value
        else box_urn(sscc=number, prefix=prefix)
    )
    assert name == value["expected"], value["source"]


def test_a_name_with_a_prefix_that_nobody_licenses_is_not_made() -> None:
    (value,) = (value for value in VALUES if value["id"] == NOBODYS)
    with pytest.raises(RestrictedNumberError):
        CompanyPrefix(value["sscc"][1 : 1 + value["company_prefix_length"]])
