"""Papers judged by rendering them and reading the symbols back with an unrelated reader."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from batches.labels.pdf.lots import TEXT_DOES_NOT_FIT
from batches.labels.pdf.text import BOLD, PLAIN, fitted, one_line, width_pt, wrapped
from batches.labels.rules.papers import (
    PICTOGRAMS,
    SAFETY_ADVICE,
    Paper,
    TravelerNeed,
)
from shopfloor.codes.alphabet import Prefix, encode
from tests.batches.labels.conftest import (
    drawn,
    rendered,
    symbols,
    words,
)
from tests.batches.labels.samples import HAZARD, LONG, TRAVELER, box, box_item, lot

pytestmark = pytest.mark.only_on("sqlite")  # no database has a part in it: once is enough

OWN_CODES = st.from_regex(r"[A-Z0-9]([A-Z0-9.-]{0,22}[A-Z0-9])?", fullmatch=True)
# --- Symbols ---


# The longest codes want 3 dots a module at 300 dpi, which are 2 and a bit at 203: a label for the
# finer printer is not sent to the coarser one.
@pytest.mark.parametrize(("dpi_of_page", "dpi_of_printer"), [(203, 203), (203, 300), (300, 300)])
@pytest.mark.parametrize("code", ["X-2223", "CRATE-2026.SPRING-000017", "1"])
def test_a_box_label_reads_back_as_the_boxs_code_from_both_symbols(
    code: str, dpi_of_page: int, dpi_of_printer: int
) -> None:
    image = rendered(drawn(box(code), dpi=dpi_of_page), dpi=dpi_of_printer)
    assert symbols(image) == [("Code128", code), ("DataMatrix", code)]


@pytest.mark.parametrize("dpi_of_page", [203, 300])
@pytest.mark.parametrize("dpi_of_printer", [203, 300])
@pytest.mark.parametrize("stock", ["2x1", "4x2"])
@pytest.mark.parametrize("code", ["L-2227", "L-2227.1.12", "M" * 24 + ".123456" * 5 + ".1"])
@pytest.mark.parametrize("hazard", ["", HAZARD])
def test_a_lot_sticker_reads_back_as_the_lots_code(
    code: str, stock: str, hazard: str, dpi_of_page: int, dpi_of_printer: int
) -> None:
    label = lot(code, hazard_text=hazard, use_by="2026-09-01")
    image = rendered(drawn(label, on=stock, dpi=dpi_of_page, is_demo=True), dpi=dpi_of_printer)
    assert symbols(image) == [("DataMatrix", code)]


@pytest.mark.parametrize("dpi", [203, 300])
def test_a_traveler_reads_back_as_the_batchs_code(dpi: int) -> None:
    image = rendered(drawn(TRAVELER), dpi=dpi)
    assert symbols(image) == [("DataMatrix", "B-2225")]


@settings(max_examples=25, deadline=None)
@given(code=OWN_CODES)
def test_any_code_a_shop_gives_a_box_reads_back_at_both_resolutions(code: str) -> None:
    pdf = drawn(box(code))
    expected = [("Code128", code), ("DataMatrix", code)]
    assert symbols(rendered(pdf, dpi=203)) == expected
    assert symbols(rendered(pdf, dpi=300)) == expected


@settings(max_examples=25, deadline=None)
@given(number=st.integers(0, 10**9))
def test_any_code_we_make_reads_back_from_a_lot_sticker(number: int) -> None:
    code = encode(number, Prefix.LOT)
    assert symbols(rendered(drawn(lot(code)), dpi=203)) == [("DataMatrix", code)]


@pytest.mark.parametrize("dpi", [203, 300])
def test_symbols_are_drawn_in_whole_dots_of_their_printer(dpi: int) -> None:
    bars = rendered(drawn(box(), dpi=dpi), dpi=dpi)[-int(0.5 * dpi) :]
    squares = rendered(drawn(lot(), dpi=dpi), dpi=dpi)[:, : int(0.4 * dpi)]
    # No dot is gray: each is all ink or none, but for the last decimals of a coordinate.
    ink_or_none = {0, 1, 2, 3, 252, 253, 254, 255}
    assert set(np.unique(bars)) <= ink_or_none
    assert set(np.unique(squares)) <= ink_or_none
    assert squares.min() == bars.min() == 0


def test_the_page_has_the_printers_dots() -> None:
    assert rendered(drawn(box()), dpi=203).shape == (1218, 812)
    assert rendered(drawn(lot()), dpi=203).shape == (203, 406)
    assert rendered(drawn(lot(), on="4x2", dpi=300), dpi=300).shape == (600, 1200)


def test_the_same_paper_is_the_same_file() -> None:
    assert drawn(box()) == drawn(box())


# --- What they say ---


def test_a_box_label_says_whose_it_is_what_is_in_it_and_how_many() -> None:
    said = words(drawn(box()))
    for part in ("Test shop", "Minnow 90", "Fire tiger", "24 pieces", "L-2227.1", "2026-03-01"):
        assert part in said
    assert "X-2223" in said
    assert "DEMO" not in said


@pytest.mark.parametrize("paper", [box(), lot(), TRAVELER])
def test_a_made_up_shop_says_demo_on_every_paper(paper: Paper) -> None:
    assert "DEMO" in words(drawn(paper, is_demo=True))


@pytest.mark.parametrize(
    ("paper", "stock"),
    [(box(), "4x6"), (box(), "4x2"), (lot(), "2x1"), (lot(), "4x2"), (TRAVELER, "letter")],
)
@pytest.mark.parametrize("shop_name", ["Test shop", LONG])
def test_a_reprint_says_so_however_long_the_shops_name(
    paper: Paper, stock: str, shop_name: str
) -> None:
    noted = replace(paper, print_note="Reprint 2026-03-02")
    assert "Reprint 2026-03-02" in words(drawn(noted, on=stock, shop_name=shop_name, is_demo=True))
    assert "Reprint" not in words(drawn(paper, on=stock, shop_name=shop_name))


@pytest.mark.parametrize("stock", ["4x6", "4x2", "letter-6", "letter-10", "a4-8", "a4-24"])
def test_the_count_is_never_cut(stock: str) -> None:
    assert words(drawn(box("X-1", box_item(pieces=1440)), on=stock)).count("1440 pieces") >= 1
    mixed = box("X-1", box_item(1, pieces=144), box_item(2, pieces=720))
    said = words(drawn(mixed, on=stock))
    assert "720 pieces" in said or "and 1 more" in said


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 10])
def test_every_item_of_a_mixed_box_is_named_with_its_count(count: int) -> None:
    items = tuple(box_item(number, title=f"Model {number}.") for number in range(count))
    said = words(drawn(box("X-2223", *items)))
    assert [f"Model {number}." in said for number in range(count)] == [True] * count
    assert said.count("24 pieces") >= count


def test_a_box_of_more_items_than_fit_says_how_many_are_left_out() -> None:
    items = tuple(box_item(number, title=f"Model {number}.") for number in range(40))
    said = words(drawn(box("X-2223", *items)))
    named = sum(f"Model {number}." in said for number in range(40))
    assert 8 <= named < 40
    assert f"and {40 - named} more: scan the code" in said


def test_lots_that_do_not_fit_are_counted_and_none_is_cut() -> None:
    lots = tuple(f"L-22{number}.1 (12)" for number in range(100, 160))
    said = words(drawn(box("X-2223", box_item(lots=lots))))
    named = [one for one in lots if one in said.replace("\n", " ")]
    assert 0 < len(named) < 60
    assert f"and {60 - len(named)} more" in said.replace("\n", " ")


def test_dates_of_many_kinds_stand_whole() -> None:
    dates = "Made 2026-03-01 to 2026-03-04; On hand since 2026-01-01 to 2026-02-01"
    assert dates in words(drawn(box("X-2223", box_item(dates=dates))))


def test_one_piece_is_not_called_pieces() -> None:
    said = words(drawn(box("X-2223", box_item(pieces=1))))
    assert "1 piece in all" in said
    assert "pieces" not in said


def test_hazard_text_stands_whole_on_the_label_with_the_advice() -> None:
    label = lot(hazard_text=HAZARD, pictograms=("GHS02", "GHS07"))
    said = words(drawn(label, on="4x2")).replace("\n", " ")
    assert f"HAZARD GHS02 flame, GHS07 exclamation mark. {HAZARD}" in said
    assert SAFETY_ADVICE in said


def test_where_there_is_little_room_pictograms_have_their_codes_alone() -> None:
    every = tuple(PICTOGRAMS)
    said = words(drawn(lot(hazard_text=HAZARD * 2, pictograms=every), on="4x2")).replace("\n", " ")
    assert f"HAZARD {' '.join(every)} {HAZARD}" in said


@pytest.mark.parametrize("hazard", ["", HAZARD])
def test_what_keeps_for_a_time_once_open_has_room_to_write_when_it_was_opened(hazard: str) -> None:
    closed = lot(opened_life="30 days", hazard_text=hazard, use_by="2026-09-01")
    said = words(drawn(closed, on="4x2"))
    assert re.search(r"Opened _{12}\s+Discard by _{12} \(30 days open\)", said)
    opened = replace(closed, opened="2026-08-01 09:00", discard_by="2026-08-31 09:00")
    said = words(drawn(opened, on="4x2"))
    assert re.search(r"Opened 2026-08-01 09:00\s+Discard by 2026-08-31 09:00", said)
    assert "_" not in said
    assert hazard in said.replace("\n", " ")


def test_what_keeps_as_long_open_as_closed_has_no_such_line() -> None:
    assert "Opened" not in words(drawn(lot(), on="4x2"))


@pytest.mark.parametrize("stock", ["2x1", "4x2"])
def test_hazard_text_that_does_not_fit_is_never_cut_but_replaced_by_where_to_read_it(
    stock: str,
) -> None:
    label = lot(hazard_text=HAZARD * 5, pictograms=("GHS02",), use_by="2026-09-01")
    said = words(drawn(label, on=stock)).replace("\n", " ")
    assert f"{TEXT_DOES_NOT_FIT} GHS02" in said
    assert SAFETY_ADVICE in said
    assert "flammable" not in said


def test_a_lot_without_hazard_data_says_nothing_of_hazards() -> None:
    said = words(drawn(lot(), on="4x2"))
    assert "HAZARD" not in said
    assert "safety" not in said


@pytest.mark.parametrize("stock", ["2x1", "4x2"])
def test_a_lot_code_is_never_cut(stock: str) -> None:
    code = "M" * 24 + ".123456" * 5 + ".1"
    said = words(drawn(lot(code, hazard_text=HAZARD), on=stock))
    assert code in said.replace("\n", "")


def test_a_traveler_names_the_lots_to_take_first_and_a_long_bill_goes_on() -> None:
    needs = tuple(TravelerNeed(f"PART-{n}.", "Part", "1 each", (f"L-{n}",)) for n in range(60))
    pdf = drawn(replace(TRAVELER, needs=needs))
    said = words(pdf) + words(pdf, page=1)
    assert all(f"PART-{n}. Part" in said and f"L-{n}" in said for n in range(60))
    assert "Test shop" in words(pdf, page=1)
    assert "Batch B-2225, continued" in words(pdf, page=1)


def test_nothing_that_a_traveler_says_is_cut() -> None:
    need = TravelerNeed("ITEM-1", LONG, "1234567.891 each", tuple(f"L-{n}" for n in range(30)))
    full = replace(TRAVELER, item_name=LONG, note=LONG * 3, stage=LONG, needs=(need,))
    said = words(drawn(full)).replace("\n", " ")
    assert said.count(LONG) == 6
    assert all(f"L-{n}" in said for n in range(30))
    assert "…" not in said


def test_a_traveler_says_which_items_carry_hazard_data_and_where_to_read_it() -> None:
    said = words(drawn(replace(TRAVELER, hazards=("GLUE-A", "PAINT"))))
    assert f"HAZARD: GLUE-A, PAINT. {SAFETY_ADVICE}" in said.replace("\n", " ")
    assert "HAZARD" not in words(drawn(TRAVELER))


# --- Text ---


def test_text_shrinks_until_it_fits_and_is_then_cut_with_an_ellipsis() -> None:
    wide = width_pt("Minnow 90", BOLD, 20)
    assert fitted("Minnow 90", BOLD, space_pt=wide, size_pt=20, size_min_pt=5) == ("Minnow 90", 20)
    smaller = fitted("Minnow 90", BOLD, space_pt=wide - 1, size_pt=20, size_min_pt=5)
    assert smaller == ("Minnow 90", 19.5)
    cut = fitted("Minnow 90", BOLD, space_pt=wide / 2, size_pt=20, size_min_pt=20)
    assert cut.text.endswith("…")
    assert width_pt(cut.text, BOLD, 20) <= wide / 2


@given(text=st.text(max_size=80), space_pt=st.floats(20, 300))
def test_no_line_is_wider_than_its_space(text: str, space_pt: float) -> None:
    fit = fitted(text, PLAIN, space_pt=space_pt, size_pt=12, size_min_pt=6)
    assert width_pt(fit.text, PLAIN, fit.size_pt) <= space_pt
    lines = wrapped(text, PLAIN, space_pt=space_pt, size_pt=8)
    assert all(width_pt(line, PLAIN, 8) <= space_pt for line in lines)
    assert "".join(lines).replace(" ", "") == one_line(text).replace(" ", "")


def test_letters_keep_their_marks_and_line_ends_become_blanks() -> None:
    assert one_line("Größe\n  Łódź") == "Größe Łódź"
