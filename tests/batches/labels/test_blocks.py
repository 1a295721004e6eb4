"""A text of several lines in a space of its own."""

from __future__ import annotations

from batches.labels.pdf.blocks import block
from batches.labels.pdf.text import PLAIN, width_pt


def test_text_that_fills_a_space_shrinks_before_it_is_cut() -> None:
    wide = width_pt("Minnow 90", PLAIN, 10)
    whole = block("Minnow 90 Fire", PLAIN, space_pt=wide, height_pt=24, size_pt=10, size_min_pt=5)
    assert whole == (["Minnow 90", "Fire"], 10, True)
    smaller = block("Minnow 90 Fire", PLAIN, space_pt=wide, height_pt=12, size_pt=10, size_min_pt=5)
    assert (len(smaller.lines), smaller.is_whole) == (1, True)
    cut = block("Minnow 90 Fire", PLAIN, space_pt=wide, height_pt=12, size_pt=10, size_min_pt=10)
    assert (cut.lines[0][-1], cut.is_whole) == ("…", False)
    assert width_pt(cut.lines[0], PLAIN, 10) <= wide
    none = block("Minnow 90", PLAIN, space_pt=wide, height_pt=5, size_pt=10, size_min_pt=6)
    assert none.lines == []
