"""Where everything on a paper stands: within its label, and over nothing else."""

from __future__ import annotations

from dataclasses import replace

import pypdfium2
import pytest

from batches.labels.errors import StockTooSmallError
from batches.labels.pdf.writing import WRITERS
from batches.labels.rules.papers import Paper
from batches.labels.rules.stock import STANDING
from tests.batches.labels.conftest import drawn, ink_um, overprinted, rendered, symbols, words
from tests.batches.labels.samples import HAZARD, LONG, TRAVELER, box, box_item, lot

WORST = [
    box("W" * 24, *(box_item(n, title=LONG, subtitle=LONG) for n in range(1))),
    box("W" * 24, *(box_item(n, title=LONG, subtitle=LONG) for n in range(4))),
    box("W" * 24, *(box_item(n, title=LONG, pieces=10**9) for n in range(40))),
    lot("W" * 60, item_name=LONG, hazard_text=HAZARD, use_by="2026-09-01"),
    lot(
        "W" * 60,
        item_name=LONG,
        hazard_text=HAZARD * 9,
        pictograms=tuple(f"GHS0{n}" for n in range(1, 10)),
        supplier_lot="W" * 60,
        use_by="2026-09-01",
    ),
    lot(
        item_name=LONG,
        hazard_text=HAZARD * 9,
        pictograms=tuple(f"GHS0{n}" for n in range(1, 10)),
        use_by="2026-09-01 14:05",
    ),
]
LABELS = [name for name, stock in STANDING.items() if stock.label_height_um < 200_000]


def fits(paper: Paper, stock: str) -> bool:
    """Whether the paper goes on labels that small."""
    writer, label = WRITERS[type(paper)], STANDING[stock]
    return (
        label.label_width_um >= writer.width_mm * 1000
        and label.label_height_um >= writer.height_mm * 1000
    )


WORST_ON = [(paper, stock) for paper in WORST for stock in LABELS if fits(paper, stock)]


@pytest.mark.parametrize("name", ["Test shop", LONG])
@pytest.mark.parametrize(("paper", "stock"), WORST_ON)
def test_nothing_is_drawn_outside_the_margins_of_its_label(
    paper: Paper, stock: str, name: str
) -> None:
    pdf = drawn(paper, on=stock, is_demo=True, shop_name=name)
    found = STANDING[stock]
    assert ink_um(pdf, dpi=203).is_within(
        found.left_um + found.margin_um,
        found.top_um + found.margin_um,
        found.left_um + found.label_width_um - found.margin_um,
        found.top_um + found.label_height_um - found.margin_um,
    )


@pytest.mark.parametrize("name", ["Test shop", LONG])
@pytest.mark.parametrize(("paper", "stock"), WORST_ON)
def test_nothing_is_drawn_over_a_line_of_text(paper: Paper, stock: str, name: str) -> None:
    assert overprinted(drawn(paper, on=stock, is_demo=True, shop_name=name)) == []


@pytest.mark.parametrize(("paper", "stock"), WORST_ON)
@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_the_worst_of_every_stock_reads_back(paper: Paper, stock: str, dpi: int) -> None:
    found = symbols(rendered(drawn(paper, on=stock, dpi=dpi), dpi=dpi))
    assert ("DataMatrix", paper.code) in found
    assert {code for _, code in found} == {paper.code}


@pytest.mark.parametrize("stock", ["3x1", "2x1", "letter-30"])
def test_a_box_label_is_refused_on_labels_too_small_with_what_it_needs(stock: str) -> None:
    with pytest.raises(StockTooSmallError) as refused:
        drawn(box(), on=stock)
    assert (refused.value.facts["width_mm"], refused.value.facts["height_mm"]) == (66, 34)


# --- Where labels lie on a sheet ---


def test_labels_fill_a_sheet_row_by_row_from_where_it_is_still_whole() -> None:
    lots = [lot(f"L-{number}") for number in range(1, 6)]
    pdf = drawn(*lots, on="letter-30", start=29)
    pages = pypdfium2.PdfDocument(pdf)
    assert len(pages) == 2
    assert [f"L-{n}" in words(pdf) for n in range(1, 6)] == [True, True, False, False, False]
    assert [f"L-{n}" in words(pdf, page=1) for n in range(1, 6)] == [False, False, True, True, True]
    last_two = ink_um(pdf, dpi=203)
    assert last_two.left_um >= 4_763 + 69_850
    assert last_two.top_um >= 12_700 + 9 * 25_400


def test_a_nudge_moves_everything_by_as_much() -> None:
    plain = ink_um(drawn(lot(), on="letter-30"), dpi=600)
    moved = ink_um(drawn(lot(), on="letter-30", nudge_x_um=2_000, nudge_y_um=-1_500), dpi=600)
    assert moved.left_um - plain.left_um == pytest.approx(2_000, abs=90)
    assert moved.top_um - plain.top_um == pytest.approx(-1_500, abs=90)


def test_cut_marks_are_drawn_only_when_asked_for() -> None:
    plain = ink_um(drawn(lot(), on="letter-30"), dpi=300)
    marked = ink_um(drawn(lot(), on="letter-30", has_cut_marks=True), dpi=300)
    assert plain.left_um >= 4_763 + 1_500
    assert marked.left_um == pytest.approx(4_763, abs=120)
    assert marked.bottom_um == pytest.approx(12_700 + 25_400, abs=120)


def test_papers_of_many_kinds_go_in_one_file_in_the_order_asked() -> None:
    pdf = drawn(box("X-1"), lot("L-1"), box("X-2"), on="4x6")
    assert ["X-1" in words(pdf, 0), "L-1" in words(pdf, 1), "X-2" in words(pdf, 2)] == [True] * 3


def test_nothing_of_a_traveler_is_drawn_outside_its_margins() -> None:
    crowded = replace(TRAVELER, item_name=LONG * 2, note=LONG * 3, stage=LONG)
    pdf = drawn(crowded)
    ink = ink_um(pdf, dpi=203)
    assert ink.is_within(12_600, 12_600, 215_900 - 12_600, 279_400 - 12_600)
    assert overprinted(pdf) == []
