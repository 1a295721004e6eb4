"""Code 128 check characters and widths against published values and a second table."""

from __future__ import annotations

import pytest
from reportlab.graphics.barcode.code128 import _patterns

from shopfloor.codes.gs1.elements import FNC1
from shopfloor.codes.symbols import code128_check, code128_values, code128_widths

STOP = 106


@pytest.mark.parametrize(
    ("values", "check", "source"),
    [
        ((103, 40, 41, 99, 34, 56, 78), 67, 'Page "Code 128" of a barcode tutorial: HI345678'),
        ((104, 65, 66, 67, 68, 69, 70), 97, 'Page "Calculation of Code128 Check Character"'),
        ((105, 34, 56, 78), 73, 'Page "Calculation of Code128 Check Character"'),
    ],
)
def test_check_characters_are_the_published_ones(
    values: tuple[int, ...], check: int, source: str
) -> None:
    assert code128_check(values) == check, source


def test_texts_with_one_shortest_symbol_give_the_published_characters() -> None:
    # Page "Calculation of Code128 Check Character".
    assert code128_values("abcdef") == (104, 65, 66, 67, 68, 69, 70, 97, STOP)
    assert code128_values("345678") == (105, 34, 56, 78, 73, STOP)


@pytest.mark.parametrize(
    ("text", "modules"),
    [
        (f"{FNC1}0109521234543213", 134),
        (f"{FNC1}00395212340000000014", 156),
        (f"{FNC1}01095212345432131727123110LOT-42A", 277),
        (f"{FNC1}010952123454321310AX8{FNC1}37346", 244),
        (f"{FNC1}010952123400001310B7{FNC1}21000001", 244),
        (f"{FNC1}91INT-0001", 145),
        (f"{FNC1}1012345{FNC1}2112345", 167),
        (f"{FNC1}01995212340000163103001250", 189),
        ("0000000000", 90),
    ],
)
def test_symbols_are_as_short_as_those_of_a_second_encoder(text: str, modules: int) -> None:
    # No published source: a second, separately written encoder over code sets B and C.
    assert sum(code128_widths(text)) == modules


@pytest.mark.parametrize("first", range(0, 100, 10))
def test_the_widths_are_those_of_another_table(first: int) -> None:
    # ReportLab, module reportlab.graphics.barcode.code128: "a" is one module wide, "b" two ...
    text = "".join(f"{value:02d}" for value in range(first, first + 10)) + "A"
    letters = "".join(_patterns[value] for value in code128_values(text)).lower()
    assert code128_widths(text) == tuple("abcd".index(letter) + 1 for letter in letters)
