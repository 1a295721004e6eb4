"""Label stock in dots, and how large a symbol can be."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.labels.rules.geometry import STOCKS, lot_stock, whole_dots


@pytest.mark.parametrize(
    ("name", "dpi", "dots"),
    [
        # Inches times dots an inch: 4 x 203 = 812 and so on.
        ("4x6", 203, (812, 1218)),
        ("4x6", 300, (1200, 1800)),
        ("4x2", 203, (812, 406)),
        ("2x1", 300, (600, 300)),
    ],
)
def test_a_stock_has_whole_dots(name: str, dpi: int, dots: tuple[int, int]) -> None:
    assert STOCKS[name].dots(dpi) == dots


def test_a_symbol_is_as_large_as_fits_and_no_larger_than_wanted() -> None:
    assert whole_dots(modules=16, space_dots=223, dots_min=3, dots_max=99) == 13
    assert whole_dots(modules=16, space_dots=224, dots_min=3, dots_max=99) == 14
    assert whole_dots(modules=16, space_dots=224, dots_min=3, dots_max=8) == 8


def test_a_symbol_that_would_not_scan_does_not_fit() -> None:
    assert whole_dots(modules=16, space_dots=48, dots_min=3, dots_max=9) == 3
    assert whole_dots(modules=16, space_dots=47, dots_min=3, dots_max=9) == 0


@given(st.integers(1, 400), st.integers(0, 5000), st.integers(1, 5), st.integers(5, 20))
def test_a_symbol_never_leaves_its_space(
    modules: int, space_dots: int, dots_min: int, dots_max: int
) -> None:
    dots = whole_dots(modules=modules, space_dots=space_dots, dots_min=dots_min, dots_max=dots_max)
    assert dots * modules <= space_dots
    assert dots == 0 or dots_min <= dots <= dots_max


def test_hazard_text_takes_the_larger_sticker() -> None:
    assert lot_stock(has_hazard=False) == "2x1"
    assert lot_stock(has_hazard=True) == "4x2"
