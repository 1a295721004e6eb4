"""Symbols are judged by reading them back with an unrelated reader, never by comparing modules."""

from __future__ import annotations

import string

import numpy as np
import numpy.typing as npt
import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.codes.errors import SymbolTextError
from shopfloor.codes.gs1.elements import FNC1
from shopfloor.codes.symbols import (
    CODE128_QUIET_MODULES,
    CODE128_TEXT_MAX,
    DATAMATRIX_QUIET_MODULES,
    DATAMATRIX_TEXT_MAX,
    QR_TEXT_MAX,
    code128_values,
    code128_widths,
    datamatrix_modules,
    qr_modules,
)

PRINTABLE = "".join(map(chr, range(0x20, 0x7F)))
LETTERS_AND_DIGITS = string.ascii_uppercase + string.digits + "-."
# One or more elements, none empty, as a GS1 symbol carries them.
ELEMENTS = st.lists(st.text(LETTERS_AND_DIGITS, min_size=1, max_size=14), min_size=1, max_size=3)

Image = npt.NDArray[np.uint8]


def image_of_bars(widths: tuple[int, ...]) -> Image:
    bars = np.repeat(np.arange(len(widths)) % 2 == 0, widths)
    clear = np.zeros(CODE128_QUIET_MODULES, dtype=bool)
    row = np.where(np.concatenate([clear, bars, clear]), 0, 255).astype(np.uint8)
    return np.repeat(np.tile(row, (20, 1)), 3, axis=1)


def image_of_rows(rows: tuple[tuple[bool, ...], ...]) -> Image:
    modules = np.pad(np.array(rows), DATAMATRIX_QUIET_MODULES)
    pixels = np.where(modules, 0, 255).astype(np.uint8)
    return np.kron(pixels, np.ones((5, 5), dtype=np.uint8))


def read_back(image: Image) -> tuple[str, bytes]:
    # Of these two kinds only: in a large Data Matrix a reader that looks for every kind may also
    # see a few digits of an old linear one (12 of 12,000 random texts up to 300 characters).
    kinds = zxingcpp.BarcodeFormats(
        [zxingcpp.BarcodeFormat.Code128, zxingcpp.BarcodeFormat.DataMatrix]
    )
    (symbol,) = zxingcpp.read_barcodes(image, formats=kinds, text_mode=zxingcpp.TextMode.Plain)
    return symbol.symbology_identifier, symbol.bytes


@pytest.mark.parametrize("first", range(0, 95, 5))
def test_every_character_of_code_set_b_reads_back_in_code_128(first: int) -> None:
    text = PRINTABLE[first : first + 5] + "x"
    assert read_back(image_of_bars(code128_widths(text))) == ("]C0", text.encode())


@pytest.mark.parametrize("tens", range(10))
def test_every_pair_of_code_set_c_reads_back_in_code_128(tens: int) -> None:
    text = "".join(f"{tens}{ones}" for ones in range(10))
    assert len(code128_values(text)) == 1 + 10 + 2
    assert read_back(image_of_bars(code128_widths(text))) == ("]C0", text.encode())


@given(text=st.text(PRINTABLE, min_size=1, max_size=40))
def test_any_printable_text_reads_back_from_code_128(text: str) -> None:
    assert read_back(image_of_bars(code128_widths(text))) == ("]C0", text.encode())


@given(text=st.text(string.digits + "AB", min_size=1, max_size=40))
def test_texts_that_change_code_set_read_back_from_code_128(text: str) -> None:
    assert read_back(image_of_bars(code128_widths(text))) == ("]C0", text.encode())


@given(elements=ELEMENTS)
def test_elements_after_a_first_fnc1_read_back_as_gs1_128(elements: list[str]) -> None:
    data = FNC1.join(elements)
    assert read_back(image_of_bars(code128_widths(FNC1 + data))) == ("]C1", data.encode())


@given(text=st.text(PRINTABLE, min_size=1, max_size=120))
def test_any_printable_text_reads_back_from_data_matrix(text: str) -> None:
    assert read_back(image_of_rows(datamatrix_modules(text))) == ("]d1", text.encode())


@given(elements=ELEMENTS)
def test_elements_after_a_first_fnc1_read_back_as_gs1_data_matrix(elements: list[str]) -> None:
    data = FNC1.join(elements)
    assert read_back(image_of_rows(datamatrix_modules(FNC1 + data))) == ("]d2", data.encode())


@given(text=st.text(PRINTABLE, min_size=1, max_size=60))
def test_a_data_matrix_is_square_with_its_solid_edges_left_and_below(text: str) -> None:
    rows = datamatrix_modules(text)
    assert {len(row) for row in rows} == {len(rows)}
    assert all(row[0] for row in rows)
    assert all(rows[-1])


@given(text=st.text(PRINTABLE, min_size=1, max_size=40))
def test_a_code_128_symbol_is_11_modules_a_character_and_13_for_the_stop(text: str) -> None:
    assert sum(code128_widths(text)) == 11 * (len(code128_values(text)) - 1) + 13


@pytest.mark.parametrize(
    ("text", "length"),
    [
        ("1234", 5),  # start C, 12, 34, check, stop
        ("123", 6),  # start B and three: a change to C saves nothing
        ("12345", 7),  # start C, 12, 34, to B, 5, check, stop
        ("A1234", 7),  # no change either way: start B and five, or to C and two
        ("A12345B", 10),
        ("AB", 5),
    ],
)
def test_the_shortest_symbol_is_chosen(text: str, length: int) -> None:
    assert len(code128_values(text)) == length


@pytest.mark.parametrize("text", ["x" * CODE128_TEXT_MAX, "7" * CODE128_TEXT_MAX])
def test_the_longest_text_reads_back_from_code_128(text: str) -> None:
    assert read_back(image_of_bars(code128_widths(text))) == ("]C0", text.encode())


@pytest.mark.parametrize("character", ["x", "7", "Q"])
def test_the_longest_text_reads_back_from_data_matrix(character: str) -> None:
    text = character * DATAMATRIX_TEXT_MAX
    assert read_back(image_of_rows(datamatrix_modules(text))) == ("]d1", text.encode())


@pytest.mark.parametrize(
    "text",
    ["", FNC1, "A\nB", "caf\u00e9", "\x7f", "A" + FNC1 + "B", "x" * (CODE128_TEXT_MAX + 1)],
)
def test_text_that_code_128_cannot_carry_is_refused(text: str) -> None:
    with pytest.raises(SymbolTextError):
        code128_widths(text)


@pytest.mark.parametrize(
    "text",
    ["", FNC1, "A\nB", "caf\u00e9", "\x7f", "A" + FNC1 + "B", "x" * (DATAMATRIX_TEXT_MAX + 1)],
)
def test_text_that_data_matrix_cannot_carry_is_refused(text: str) -> None:
    with pytest.raises(SymbolTextError):
        datamatrix_modules(text)


@pytest.mark.parametrize("text", ["", "A\nB", "caf\u00e9", f"{FNC1}01", "x" * (QR_TEXT_MAX + 1)])
def test_text_that_a_qr_cannot_carry_is_refused(text: str) -> None:
    with pytest.raises(SymbolTextError):
        qr_modules(text)
