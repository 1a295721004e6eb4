"""Digital Links are built in one way, read on any host, and refused out of order."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.codes.errors import CheckDigitError, Gs1LinkError, Gs1ValueError
from shopfloor.codes.gs1.elements import Element, ElementString, element_string, read_elements
from shopfloor.codes.gs1.links import digital_link, read_digital_link
from tests.shopfloor.codes.element_strings import any_elements, letters

GTIN = "09521234543213"
SHOP = "https://shop.example"


@given(elements=any_elements())
def test_what_is_built_is_read_again_the_same(elements: ElementString) -> None:
    link = read_digital_link(digital_link(elements, stem=f"{SHOP}/lures"))
    assert link is not None
    assert set(link.elements.elements) == set(elements.elements)
    assert (link.stem, link.other) == (f"{SHOP}/lures", ())
    assert read_digital_link(link.canonical) == type(link)("https://id.gs1.org", link.elements)


@given(lot=letters(20), serial=letters(20), variant=letters(20), start=st.permutations("abc"))
def test_qualifiers_of_a_gtin_stand_in_one_order(
    lot: str, serial: str, variant: str, start: list[str]
) -> None:
    details = {"a": Element("10", lot), "b": Element("21", serial), "c": Element("22", variant)}
    given_so = element_string([*(details[name] for name in start), Element("01", GTIN)])
    link = read_digital_link(digital_link(given_so, stem=SHOP))
    assert link is not None
    assert [element.ai for element in link.elements.elements] == ["01", "22", "10", "21"]


def test_signs_that_mean_something_in_an_address_are_percent_encoded() -> None:
    elements = read_elements(f"(01){GTIN}(10)A/1?%(240)B&C+D=E")
    assert digital_link(elements, stem=SHOP) == (
        f"{SHOP}/01/{GTIN}/10/A%2F1%3F%25?240=B%26C%2BD%3DE"
    )


def test_a_plus_in_a_query_is_a_plus() -> None:
    link = read_digital_link(f"{SHOP}/01/{GTIN}?240=A+B")
    assert link is not None
    assert link.elements.value("240") == "A+B"


def test_the_host_is_kept_apart_and_two_hosts_have_one_canonical_link() -> None:
    links = [
        read_digital_link(f"{stem}/01/{GTIN}/10/A?lang=en&17=271231")
        for stem in ("HTTPS://Shop.example:8443/lures", "http://192.0.2.7")
    ]
    assert [link and link.stem for link in links] == [
        "https://shop.example:8443/lures",
        "http://192.0.2.7",
    ]
    assert {link and link.canonical for link in links} == {
        f"https://id.gs1.org/01/{GTIN}/10/A?17=271231"
    }
    assert [link and link.other for link in links] == [(("lang", "en"),)] * 2


def test_a_lot_that_looks_like_a_key_stays_a_lot() -> None:
    link = read_digital_link(f"{SHOP}/01/{GTIN}/10/01/21/00")
    assert link is not None
    assert (link.elements.value("10"), link.elements.value("21")) == ("01", "00")


@pytest.mark.parametrize(
    "address",
    [
        "",
        f"01{GTIN}",
        SHOP,
        f"{SHOP}/items/01",
        f"{SHOP}/01",
        f"{SHOP}/10/A",
        f"{SHOP}/01/{GTIN}/lot/A",
        f"ftp://shop.example/01/{GTIN}",
        f"https:///01/{GTIN}",
        "https://[/01/1",
    ],
)
def test_other_addresses_are_no_links(address: str) -> None:
    assert read_digital_link(address) is None


@pytest.mark.parametrize(
    "tail",
    [
        f"01/{GTIN}/21/7/10/A",
        f"01/{GTIN}/10/A/22/1",
        f"01/{GTIN}/10/A/235/1",
        f"01/{GTIN}/17/271231",
        "00/395212340000000014/10/A",
        f"01/{GTIN}?21=7",
        f"01/{GTIN}?00=395212340000000014",
    ],
)
def test_what_stands_in_the_wrong_place_is_refused(tail: str) -> None:
    with pytest.raises(Gs1LinkError):
        read_digital_link(f"{SHOP}/{tail}")


def test_data_in_a_link_is_checked_as_any() -> None:
    with pytest.raises(CheckDigitError):
        read_digital_link(f"{SHOP}/01/09521234543214")
    with pytest.raises(Gs1ValueError):
        read_digital_link(f"{SHOP}/01/{GTIN}?17=271332")
    with pytest.raises(Gs1ValueError):
        read_digital_link(f"{SHOP}/01/{GTIN}/10/{'A' * 21}")


@pytest.mark.parametrize(
    "text", ["(10)A", f"(00)395212340000000014(01){GTIN}", f"(01){GTIN}(235)A(10)B"]
)
def test_what_no_link_can_say_is_not_built(text: str) -> None:
    with pytest.raises(Gs1LinkError):
        digital_link(read_elements(text), stem=SHOP)


@pytest.mark.parametrize("stem", ["shop.example", "ftp://shop.example", "https://", ""])
def test_a_link_begins_with_a_web_address(stem: str) -> None:
    with pytest.raises(Gs1LinkError):
        digital_link(read_elements(f"(01){GTIN}"), stem=stem)
