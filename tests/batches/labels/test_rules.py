"""Stock in micrometers and dots."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.labels.rules.stock import STANDING, Stock, dots, fault_of

LETTER_30 = STANDING["letter-30"]


@pytest.mark.parametrize(
    ("name", "dpi", "size"),
    [
        # Inches times dots an inch: 4 x 203 = 812 and so on.
        ("4x6", 203, (812, 1218)),
        ("4x6", 300, (1200, 1800)),
        ("4x2", 203, (812, 406)),
        ("3x1", 203, (609, 203)),
        ("2x1", 300, (600, 300)),
        ("letter", 600, (5100, 6600)),
    ],
)
def test_a_label_has_whole_dots(name: str, dpi: int, size: tuple[int, int]) -> None:
    stock = STANDING[name]
    assert (dots(stock.label_width_um, dpi), dots(stock.label_height_um, dpi)) == size


@pytest.mark.parametrize("stock", STANDING.values(), ids=str)
def test_every_standing_stock_is_sound(stock: Stock) -> None:
    assert fault_of(stock) == ""


def test_labels_lie_row_by_row() -> None:
    assert LETTER_30.place_um(0) == (4_763, 12_700)
    assert LETTER_30.place_um(4) == (4_763 + 69_850, 12_700 + 25_400)
    assert LETTER_30.place_um(29) == (4_763 + 2 * 69_850, 12_700 + 9 * 25_400)
    assert LETTER_30.place_um(30) == LETTER_30.place_um(0)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"label_width_um": 9_999}, "10 to 450 mm"),
        ({"page_height_um": 450_001}, "10 to 450 mm"),
        ({"columns": 0}, "at least one column"),
        ({"rows": 200}, "at most 500 labels"),
        ({"left_um": -1}, "at least 0"),
        ({"pitch_x_um": 66_674}, "side by side overlap"),
        ({"pitch_y_um": 25_399}, "one below the other overlap"),
        ({"left_um": 9_526}, "right of the page"),
        ({"top_um": 12_701, "rows": 11}, "below the page"),
        ({"margin_um": 12_700}, "margins leave nothing"),
    ],
)
def test_dimensions_that_cannot_be_are_told(change: dict[str, Any], words: str) -> None:
    assert words in fault_of(replace(LETTER_30, **change))


@given(st.integers(-50_000, 450_000), st.sampled_from([203, 300, 600]))
def test_dots_are_the_nearest(length_um: int, dpi: int) -> None:
    assert abs(dots(length_um, dpi) * 25_400 - length_um * dpi) * 2 <= 25_400
