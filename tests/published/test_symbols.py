"""Symbols read back by zxing-cpp, a project that has nothing to do with those that write them.

Random element strings are drawn as bitmaps, decoded, and read again. Writers: our own Code 128,
pystrich for Data Matrix and QR.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from shopfloor.codes.fitting import DPIS, Space, Use, symbol_plan
from shopfloor.codes.gs1.elements import ElementString, element_string, read_elements
from shopfloor.codes.gs1.links import digital_link, read_digital_link
from shopfloor.codes.scan import read_scan
from shopfloor.codes.symbols import (
    CODE128_QUIET_MODULES,
    DATAMATRIX_QUIET_MODULES,
    QR_QUIET_MODULES,
    Modules,
    SymbolKind,
    code128_widths,
    datamatrix_modules,
    qr_modules,
    size_modules,
)
from tests.shopfloor.codes.element_strings import any_elements

pytestmark = pytest.mark.only_on("sqlite")  # no database has a part in it: once is enough

EXAMPLES = settings(max_examples=700)
FEWER = settings(max_examples=200)

Image = npt.NDArray[np.uint8]
FORMAT = zxingcpp.BarcodeFormat


def bars(text: str, *, dots: int = 3) -> Image:
    widths = code128_widths(text)
    dark = np.repeat(np.arange(len(widths)) % 2 == 0, widths)
    row = np.where(np.pad(dark, CODE128_QUIET_MODULES), 0, 255).astype(np.uint8)
    return np.repeat(np.tile(row, (20, 1)), dots, axis=1)


def matrix(rows: Modules, *, quiet: int, dots: int = 4) -> Image:
    pixels = np.where(np.pad(np.array(rows), quiet), 0, 255).astype(np.uint8)
    return np.kron(pixels, np.ones((dots, dots), dtype=np.uint8))


def drawn(kind: SymbolKind, text: str, *, dots: int = 4) -> Image:
    if kind is SymbolKind.CODE128:
        return bars(text, dots=dots)
    if kind is SymbolKind.DATAMATRIX:
        return matrix(datamatrix_modules(text), quiet=DATAMATRIX_QUIET_MODULES, dots=dots)
    return matrix(qr_modules(text), quiet=QR_QUIET_MODULES, dots=dots)


def sent(image: Image) -> str:
    """What a reader sends: the symbology identifier and the data."""
    kinds = zxingcpp.BarcodeFormats([FORMAT.Code128, FORMAT.DataMatrix, FORMAT.QRCode])
    (symbol,) = zxingcpp.read_barcodes(image, formats=kinds, text_mode=zxingcpp.TextMode.Plain)
    return f"{symbol.symbology_identifier}{symbol.bytes.decode()}"


@EXAMPLES
@given(elements=any_elements(length_max=48))
def test_any_element_string_comes_back_from_a_gs1_128(elements: ElementString) -> None:
    read = sent(bars(elements.symbol_text))
    assert read == f"]C1{elements.data}"
    assert read_scan(read).elements == elements


@EXAMPLES
@given(elements=any_elements())
def test_any_element_string_comes_back_from_a_gs1_data_matrix(elements: ElementString) -> None:
    read = sent(drawn(SymbolKind.DATAMATRIX, elements.symbol_text))
    assert read == f"]d2{elements.data}"
    assert read_scan(read).elements == elements


@FEWER
@given(elements=any_elements(length_max=70))
def test_any_digital_link_comes_back_from_a_qr(elements: ElementString) -> None:
    address = digital_link(elements, stem="https://shop.example")
    read = sent(drawn(SymbolKind.QR, address))
    assert read == f"]Q1{address}"
    assert read_scan(read).link == read_digital_link(address)


@given(text=st.text("".join(map(chr, range(0x20, 0x7F))), min_size=1, max_size=120))
def test_any_printable_text_comes_back_from_a_qr(text: str) -> None:
    assert sent(drawn(SymbolKind.QR, text)) == f"]Q1{text}"


@pytest.mark.parametrize("character", ["x", "7", "Q"])
def test_the_longest_text_comes_back_from_a_qr(character: str) -> None:
    assert sent(drawn(SymbolKind.QR, character * 300)) == f"]Q1{character * 300}"


@FEWER
@given(
    elements=any_elements(length_max=60),
    width_dots=st.integers(300, 1600),
    dpi=st.sampled_from(DPIS),
    kind=st.sampled_from([SymbolKind.CODE128, SymbolKind.DATAMATRIX]),
)
def test_symbols_as_planned_come_back_and_are_as_wide_as_said(
    elements: ElementString, width_dots: int, dpi: int, kind: SymbolKind
) -> None:
    plan = symbol_plan(
        elements,
        kinds=[kind, SymbolKind.DATAMATRIX],
        space=Space(width_dots * dpi // 203, 2000),
        dpi=dpi,
        use=Use.SHOP,
    )
    images = [drawn(s.kind, s.text, dots=s.module_dots) for s in plan.symbols]
    assert [image.shape[1] for image in images] == [s.width_dots for s in plan.symbols]
    read = [element for image in images for element in read_elements(sent(image)).elements]
    assert set(read) == set(elements.elements)


# GS1 DataMatrix: digits that each square holds, found by encoding with another writer; FNC1 costs
# one codeword, as much as two digits.
@pytest.mark.parametrize(
    ("side", "digits"), [(16, 24), (18, 36), (20, 44), (22, 60), (24, 72), (26, 88), (32, 124)]
)
def test_a_data_matrix_holds_as_many_digits_as_those_of_another_writer(
    side: int, digits: int
) -> None:
    with_quiet = side + 2 * DATAMATRIX_QUIET_MODULES
    assert size_modules(SymbolKind.DATAMATRIX, "7" * digits) == (with_quiet, with_quiet)
    assert size_modules(SymbolKind.DATAMATRIX, "7" * (digits + 1)).width > with_quiet


# X 0.5005 mm, 4 dots at 203 dpi; widths computed by another encoder: modules with quiet zones.
@pytest.mark.parametrize(
    ("values", "modules"),
    [
        ({"00": "395212340000000014"}, 176),
        ({"02": "09521234543213", "37": "48"}, 176),
    ],
)
def test_a_gs1_128_is_as_wide_as_that_of_another_encoder(
    values: dict[str, str], modules: int
) -> None:
    text = element_string(values).symbol_text
    assert size_modules(SymbolKind.CODE128, text) == (modules, None)


# ISO/IEC 18004: a QR of version n has 17 + 4n modules a side (common practice, no source read);
# capacities are zxing-cpp's business: it reads them back above.
@given(text=st.text("ABCDEF0123456789:/.-", min_size=1, max_size=200))
def test_a_qr_has_a_side_that_the_standard_knows(text: str) -> None:
    side = len(qr_modules(text))
    assert (side - 17) % 4 == 0
    assert size_modules(SymbolKind.QR, text).width == side + 2 * QR_QUIET_MODULES
