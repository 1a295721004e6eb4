"""Two labels in one scan are never taken for one of them; one label never for two."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.codes.alphabet import NUMBER_MAX, Prefix, encode
from shopfloor.codes.errors import TwoCodesError
from shopfloor.codes.gs1.elements import FNC1, element_string, read_elements
from shopfloor.codes.gs1.links import digital_link
from shopfloor.codes.scan import read_scan
from shopfloor.errors import InvalidInputError

GTIN, OTHER, SSCC = "09521234543213", "09521234000013", "395212340000000014"
LOT, BOX = encode(12345, Prefix.LOT), encode(77, Prefix.BOX)
LINK = f"https://shop.example/01/{GTIN}/10/AX8"

numbers = st.integers(0, NUMBER_MAX)
parts = st.sampled_from(["", ".1", "-2", "-12.3"])
lots = st.builds(lambda number, part: encode(number, Prefix.LOT) + part, numbers, parts)
others = st.builds(encode, numbers, st.sampled_from(list(Prefix)))
lot_texts = st.from_regex(r"[A-KM-Z]{1,4}[0-9]{1,3}", fullmatch=True)
strings = st.builds(
    lambda gtin, lot: element_string({"01": gtin, "10": lot}),
    st.sampled_from([GTIN, OTHER]),
    lot_texts,
)
with_a_shop = st.sampled_from(["https://shop.example", "HTTP://SHOP.EXAMPLE:8000/x", "http://a"])
links = st.builds(lambda stem, elements: digital_link(elements, stem=stem), with_a_shop, strings)
labels = st.one_of(
    lots,
    others,
    links,
    strings.map(lambda elements: elements.data),
    strings.map(lambda elements: elements.human),
    strings.map(lambda elements: f"]d2{elements.data}"),
    others.map(lambda code: f"http://shop.example/s/{code}"),
    others.map(lambda code: f"]C0{code}"),
)


@given(label=labels)
def test_the_same_label_twice_is_refused(label: str) -> None:
    with pytest.raises(TwoCodesError):
        read_scan(label + label)


@given(first=labels, second=labels, between=st.sampled_from(["", " ", "\r\n", "\t"]))
def test_two_labels_are_refused_or_are_neither_of_the_two(
    first: str, second: str, between: str
) -> None:
    one, other = read_scan(first), read_scan(second)
    try:
        both = read_scan(first + between + second)
    except InvalidInputError:
        return
    assert both.code not in {one.code, other.code}
    assert both.elements is None or both.elements not in (one.elements, other.elements)


@given(label=labels)
def test_one_label_is_not_two(label: str) -> None:
    assert read_scan(label).text


@pytest.mark.parametrize(
    "sent",
    [
        f"{LOT}{BOX}",
        f"{LOT}.1{LOT}.1",
        f"{LOT.lower()}\r\n{BOX}",
        f"{LOT}{LOT}{LOT}",
        f"{LINK}{LINK}",
        f"{LINK}https://shop.example/01/{OTHER}/10/B7",
        f"{LINK}/{LINK}",
        f"http://shop.example/s/{LOT}http://shop.example/s/{BOX}",
        f"01{GTIN}10AX8" * 2,
        f"01{GTIN}10A02{OTHER}",
        f"01{GTIN}" * 2,
        f"01{GTIN}10AX800{SSCC}",
        f"]d201{GTIN}10AX8]d201{GTIN}10AX9",
        "]C0HOOK-6]C0HOOK-7",
        f"(01){GTIN}(10)AX8(01){OTHER}(10)AX8",
        f"(01){GTIN}(10){LOT}{BOX}",
        f"https://shop.example/01/{GTIN}/10/{LOT}{BOX}",
        f"{LOT}{LINK}",
        f"01{GTIN}10AX8{LINK}",
        f"]d201{GTIN}10AX8{LOT}",
        f"]C110AX8{LOT}",
        f"]d2240ART7{BOX}",
        f"{GTIN[1:]}{LOT}",
    ],
)
def test_codes_in_a_row_are_refused(sent: str) -> None:
    with pytest.raises(TwoCodesError):
        read_scan(sent)


@pytest.mark.parametrize(
    "sent",
    [
        f"00{SSCC}02{OTHER}37240010L-2227.1".replace("240010", f"24{FNC1}10"),
        f"(00){SSCC}(02){OTHER}(37)24(10)L-2227.1",
        f"(02){OTHER}(37)24(10)L-2227.1(00){SSCC}",
        f"]d201{GTIN}10AX8{FNC1}00{SSCC}",
    ],
)
def test_a_box_and_what_is_in_it_are_one(sent: str) -> None:
    assert read_scan(sent).sscc == SSCC


@pytest.mark.parametrize(
    ("sent", "lot_code"),
    [
        (f"https://shop.example/01/{GTIN}/10/AX8?from=https://other.example/01/{OTHER}", "AX8"),
        (f"https://shop.example/go/https://other.example/01/{GTIN}/10/AX8", "AX8"),
        (f"01{GTIN}10AX-{GTIN}", f"AX-{GTIN}"),
    ],
)
def test_what_only_looks_like_two_is_one(sent: str, lot_code: str) -> None:
    elements = read_scan(sent).elements
    assert elements is not None
    assert elements.value("10") == lot_code


# --- Caps lock ---


@pytest.mark.parametrize("sign", ["]C1", "]d2", "]Q3", "]J1", "]e0"])
def test_caps_lock_is_told_by_what_the_reader_says(sign: str) -> None:
    data = f"01{GTIN}10Ax8b"
    assert read_scan(f"{sign}{data}".swapcase()) == read_scan(f"{sign}{data}")


def test_caps_lock_is_told_by_an_address_in_capitals() -> None:
    link = f"https://shop.example/01/{GTIN}/10/AX8?17=271231"
    assert read_scan(link.swapcase()) == read_scan(link)
    assert read_scan(f"]Q1{link}".swapcase()) == read_scan(f"]Q1{link}")


@pytest.mark.parametrize("rest", [f"/01/{GTIN}/10/AX8", f"/01/{GTIN}/10/Ax8"])
def test_an_address_in_capitals_alone_is_read_as_it_stands(rest: str) -> None:
    scan = read_scan(f"HTTPS://SHOP.EXAMPLE{rest}")
    assert scan.elements == read_elements(f"(01){GTIN}(10){rest[-3:]}")


def test_a_retail_symbol_under_caps_lock_is_its_number() -> None:
    assert read_scan("]e09521234543213").gtin == GTIN
    assert read_scan(f"]E0{GTIN[1:]}").gtin == GTIN


@given(number=numbers, prefix=st.sampled_from(Prefix), sign=st.sampled_from(["", "]C0", "]d1"]))
def test_a_code_of_ours_is_the_same_under_caps_lock(number: int, prefix: Prefix, sign: str) -> None:
    scan = read_scan(f"{sign}{encode(number, prefix)}".swapcase())
    assert (scan.code, scan.kind) == (encode(number, prefix), prefix)
