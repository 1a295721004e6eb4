"""Whatever a scanner sends is read, and a slip is told from free text."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.codes.alphabet import ALPHABET, NUMBER_MAX, Prefix, encode, own_code
from shopfloor.codes.errors import (
    CheckDigitError,
    Gs1IdentifierUnknownError,
    Gs1LinkError,
    Gs1ValueError,
    ScanUnreadableError,
)
from shopfloor.codes.gs1.elements import read_elements
from shopfloor.codes.scan import SCAN_LENGTH_MAX, SEPARATOR_SIGN, Scan, read_scan
from shopfloor.errors import InvalidInputError, ShopError

LOT = encode(12345, Prefix.LOT)
BATCH = encode(77, Prefix.BATCH)
BRACKETED = "(01)09521234543213(10)AX8(37)346"
DATA = "010952123454321310AX8\x1d37346"
# The last symbol changed to one that it is not.
MISTYPED = LOT[:-1] + next(symbol for symbol in ALPHABET if symbol != LOT[-1])


@given(number=st.integers(0, NUMBER_MAX), prefix=st.sampled_from(Prefix))
def test_a_code_of_ours_is_read_with_its_kind(number: int, prefix: Prefix) -> None:
    code = encode(number, prefix)
    assert read_scan(code) == Scan(text=code, code=code, kind=prefix)


@pytest.mark.parametrize(
    ("sent", "text", "symbology"),
    [
        (f"{LOT}\r\n", LOT, None),
        (f"\t {LOT.lower()} ", LOT.lower(), None),
        (f"]C0{LOT}", LOT, "C0"),
        (f"]d1 {LOT}\n", LOT, "d1"),
        (f"http://shop.example/s/{LOT}", LOT, None),
        (f"]Q1HTTPS://SHOP.EXAMPLE:8443/S/{LOT}", LOT, "Q1"),
        (f"https://shop.example/floor/s/{LOT}/?from=label#top", LOT, None),
        (f"http://192.0.2.7:8000/s/{LOT.replace('-', '%2D')}", LOT, None),
    ],
)
def test_what_a_reader_or_a_label_puts_around_a_code_is_taken_off(
    sent: str, text: str, symbology: str | None
) -> None:
    assert read_scan(sent) == Scan(text=text, code=LOT, kind=Prefix.LOT, symbology=symbology)


@pytest.mark.parametrize("part", [".1", ".12.3"])
def test_a_part_of_a_lot_keeps_its_number(part: str) -> None:
    assert read_scan((LOT + part).lower()).code == LOT + part
    assert read_scan(LOT + part).kind is Prefix.LOT


@pytest.mark.parametrize("part", [".0", ".", "..1", ".x", "-1"])
def test_what_follows_a_lot_code_and_is_no_part_makes_it_no_code(part: str) -> None:
    scan = read_scan(LOT + part)
    assert (scan.kind, scan.code) == (None, (LOT + part).upper())


def test_only_a_lot_has_parts() -> None:
    assert read_scan(f"{BATCH}.1").kind is None


def test_a_slip_in_a_code_of_ours_is_marked() -> None:
    assert read_scan(MISTYPED) == Scan(text=MISTYPED, code=MISTYPED, is_mistyped=True)
    assert read_scan(f"{MISTYPED}.2").is_mistyped


@pytest.mark.parametrize(
    ("sent", "code"),
    [
        ("hook-6", "HOOK-6"),
        ("Lot 7/b", "LOT 7/B"),
        ("4006381333932", "4006381333932"),
        ("https://shop.example/items/7", "HTTPS://SHOP.EXAMPLE/ITEMS/7"),
        ("ftp://shop.example/s/7", "FTP://SHOP.EXAMPLE/S/7"),
        ("]", "]"),
    ],
)
def test_anything_else_is_free_text(sent: str, code: str) -> None:
    assert read_scan(sent) == Scan(text=sent, code=code)


def test_a_code_of_the_shop_behind_our_address_is_free_text() -> None:
    assert read_scan("http://shop.example/s/HOOK-6") == Scan(text="HOOK-6", code="HOOK-6")


@pytest.mark.parametrize(
    ("sent", "text", "symbology"),
    [
        (f"]d2{DATA}\r\n", DATA, "d2"),
        (f"]C1{DATA}", DATA, "C1"),
        (f"]d2\x1d{DATA}", DATA, "d2"),
        (f" {DATA}\n", DATA, None),
        (f"]d2{DATA}".replace("\x1d", SEPARATOR_SIGN), DATA, "d2"),
        (BRACKETED, BRACKETED, None),
    ],
)
def test_data_under_application_identifiers_is_read(
    sent: str, text: str, symbology: str | None
) -> None:
    assert read_scan(sent) == Scan(
        text=text,
        code=text.upper(),
        symbology=symbology,
        elements=read_elements(BRACKETED),
        gtin="09521234543213",
    )


def test_data_without_any_other_sign_is_read_when_a_key_stands_first() -> None:
    assert read_scan("010952123454321310ax8").elements == read_elements("(01)09521234543213(10)ax8")
    assert read_scan("00395212340000000014").sscc == "395212340000000014"


@pytest.mark.parametrize("sent", ["010952123454321410AX8", "10AX8", "0109521234543213XY"])
def test_what_only_looks_a_little_like_gs1_data_is_free_text(sent: str) -> None:
    assert read_scan(sent) == Scan(text=sent, code=sent)


@pytest.mark.parametrize("sent", ["]C0010952123454321310AX8", "]d110AX8"])
def test_what_the_reader_calls_a_plain_symbol_is_not_gs1_data(sent: str) -> None:
    assert read_scan(sent).elements is None


@pytest.mark.parametrize(
    ("sent", "error"),
    [
        ("]d2010952123454321410AX8", CheckDigitError),
        ("(01)09521234543214(10)AX8", CheckDigitError),
        (f"]C1{DATA}X", Gs1ValueError),
        ("]d2" + "0109521234543213" + "0509", Gs1IdentifierUnknownError),
        ("https://shop.example/01/09521234543214", CheckDigitError),
        ("https://shop.example/01/09521234543213/21/7/10/A", Gs1LinkError),
        ("]d2", ScanUnreadableError),
    ],
)
def test_a_fault_in_what_is_surely_gs1_data_is_told(sent: str, error: type[ShopError]) -> None:
    with pytest.raises(error):
        read_scan(sent)


def test_a_digital_link_is_read_on_any_host() -> None:
    scan = read_scan("]Q1https://Shop.example/lures/01/09521234543213/10/A%2F1?17=271231&lang=en")
    assert scan.elements == read_elements("(01)09521234543213(10)A/1(17)271231")
    assert scan.link is not None
    assert scan.link.stem == "https://shop.example/lures"
    assert (scan.gtin, scan.kind) == ("09521234543213", None)


@pytest.mark.parametrize(
    ("sent", "gtin"),
    [
        ("9521234000013", "09521234000013"),
        ("]E09521234000013", "09521234000013"),
        ("614141777778", "00614141777778"),
        ("09521234543213", "09521234543213"),
        ("09521234543214", None),
        ("2000000000015", None),
        ("400000000015", None),
    ],
)
def test_a_gtin_alone_is_known_by_its_check_digit(sent: str, gtin: str | None) -> None:
    assert read_scan(sent).gtin == gtin


def test_an_sscc_alone_is_known_by_its_check_digit() -> None:
    assert read_scan("395212340000000014").sscc == "395212340000000014"
    assert read_scan("395212340000000015").sscc is None


def test_a_code_without_its_hyphen_is_free_text_first_because_a_shop_code_may_look_so() -> None:
    bare = LOT.replace("-", "")
    assert own_code(bare) == bare
    assert read_scan(bare.lower()) == Scan(text=bare.lower(), code=bare, with_hyphen=LOT)


@pytest.mark.parametrize("sent", ["", " \r\n", "]C1", "]d1 \n", "http://shop.example/s/%20"])
def test_an_empty_scan_is_refused(sent: str) -> None:
    with pytest.raises(ScanUnreadableError):
        read_scan(sent)


def test_a_scan_longer_than_any_label_is_refused() -> None:
    assert read_scan("x" * SCAN_LENGTH_MAX).kind is None
    with pytest.raises(ScanUnreadableError):
        read_scan("x" * (SCAN_LENGTH_MAX + 1))


@given(sent=st.text(max_size=60))
def test_any_text_is_read_or_refused_and_keeps_nothing_around_it(sent: str) -> None:
    try:
        scan = read_scan(sent)
    except InvalidInputError:
        return
    assert scan.text
    assert scan.text == scan.text.strip()


@pytest.mark.parametrize("rest", ["", "-2", "-12", ".1", "-2.1", "-2.1.13"])
def test_a_lot_of_several_in_a_posting_and_its_parts_are_read(rest: str) -> None:
    code = encode(1234, Prefix.LOT) + rest
    scan = read_scan(code.lower())
    assert (scan.kind, scan.code, scan.is_mistyped) == (Prefix.LOT, code, False)


def test_only_a_lot_has_a_number_behind_its_code() -> None:
    scan = read_scan(encode(1234, Prefix.BATCH) + "-2")
    assert scan.kind is None
