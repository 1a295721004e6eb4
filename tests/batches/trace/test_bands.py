"""Noted values as bands, and how many pieces a test takes."""

from __future__ import annotations

import pytest

from batches.trace.rules.bands import Exposure, band_names
from batches.trace.rules.fourfold import Fourfold, pieces_to_tell, risk_ratio, risk_ratio_within


def test_few_values_stay_as_they_were_noted() -> None:
    assert band_names({1: "40", 2: "55%", 3: "40"}) == {1: "40", 2: "55%", 3: "40"}


def test_words_stay_words_however_many() -> None:
    noted = {number: f"fan {number}" for number in range(20)}
    assert band_names(noted) == noted


def test_many_numbers_become_thirds_named_by_what_is_in_them() -> None:
    noted = {number: f"{number}.5 %" for number in range(9)}
    bands = band_names(noted)
    assert [bands[number] for number in range(9)] == [
        *["0.5 to 2.5"] * 3,
        *["3.5 to 5.5"] * 3,
        *["6.5 to 8.5"] * 3,
    ]


def test_a_number_that_most_entries_have_makes_no_empty_band() -> None:
    noted = dict(enumerate(["50"] * 30 + ["41", "42", "43", "44", "45", "46", "47"]))
    assert set(band_names(noted).values()) == {"41 to 47", "50 to 50"}


def test_an_exposure_keeps_what_always_went_with_it() -> None:
    one, other = Exposure("lot", "A-1"), Exposure("wheel", "W2")
    assert one.with_another(other).together == (other,)
    assert one.words == "lot A-1"


@pytest.mark.parametrize(
    ("rate", "pieces"),
    # 0.95 to the 59th is 0.048, to the 58th 0.051: the "rule of three" with its last digit.
    [(0.05, 59), (0.01, 299), (0.5, 5), (1.0, 1)],
)
def test_so_many_pieces_show_a_rate_in_19_of_20_tests(rate: float, pieces: int) -> None:
    assert pieces_to_tell(rate) == pieces
    assert (1 - rate) ** pieces <= 0.05


def test_nothing_to_compare_with_has_no_ratio() -> None:
    assert risk_ratio(Fourfold(1, 10, 0, 0)) is None
    assert risk_ratio_within([Fourfold(1, 10, 0, 0)]) is None
    assert risk_ratio(Fourfold(1, 10, 0, 0), Fourfold(0, 0, 3, 9)) is None


def test_no_failure_on_one_side_leaves_the_ratio_wide_open() -> None:
    ratio = risk_ratio(Fourfold(1, 10, 0, 10))
    assert ratio is not None
    assert ratio.low < 1 < ratio.high


def test_unlike_entries_widen_the_interval() -> None:
    table = Fourfold(20, 100, 5, 100)
    narrow, wide = risk_ratio(table), risk_ratio(table, inflation=3)
    assert narrow is not None
    assert wide is not None
    assert wide.value == narrow.value
    assert wide.low < narrow.low < narrow.high < wide.high
