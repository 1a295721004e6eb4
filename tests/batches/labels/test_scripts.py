"""Text of any script: shaped, embedded, read back from the file; no frame for what no font has."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import bidi
import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.labels.pdf.fonts import LINE_BOTTOM, LINE_TOP, clusters, shaped
from batches.labels.pdf.text import PLAIN, fitted, one_line, width_pt, wrapped
from batches.labels.rules.bidi import levels, visual
from tests.batches.labels.conftest import drawn, rendered, symbols, words
from tests.batches.labels.samples import lot
from tests.needs import need_program

pytestmark = pytest.mark.only_on("sqlite")  # no database has a part in it: once is enough

LEFT_TO_RIGHT = (
    "Größe Łódź",
    "Αγκίστρι τριπλό",
    "Тройной крючок",
    "Lưỡi câu ba chấu",
    "三本針フック、赤",
    "三叉鱼钩 红色",
    "세발 바늘",
    "ตะขอสามทาง น้ำ",
    "तिहरा काँटा क्षत्रिय",
)
RIGHT_TO_LEFT = ("خطاف ثلاثي", "קרס משולש")
EVERY = (*LEFT_TO_RIGHT, *RIGHT_TO_LEFT)
LETTERS = st.text("abc 123.,+-()[]%אבגןدبجا٣٤", max_size=24)


def _poppler(pdf: bytes, folder: Path) -> str:
    """What another reader makes of a file's text, without marks of direction."""
    program = need_program("pdftotext", package="poppler-utils")
    file = folder / "paper.pdf"
    file.write_bytes(pdf)
    told = subprocess.run([program, file, "-"], capture_output=True, check=True)  # noqa: S603
    return told.stdout.decode().replace("\u202b", "").replace("\u202c", "")


@pytest.mark.parametrize("text", EVERY)
def test_every_letter_is_a_glyph_and_none_is_an_empty_frame(text: str) -> None:
    for is_bold in (False, True):
        line = shaped(one_line(text), is_bold=is_bold)
        assert one_line(text) == text
        assert 0 not in {glyph.number for run in line.runs for glyph in run.glyphs}


@pytest.mark.parametrize("text", LEFT_TO_RIGHT)
def test_text_is_read_back_from_the_file_by_two_readers(text: str, tmp_path: Path) -> None:
    pdf = drawn(lot(item_name=text), on="4x2")
    assert f"HOOK-6 {text}" in words(pdf)
    assert f"HOOK-6 {text}" in _poppler(pdf, tmp_path)


@pytest.mark.parametrize("text", RIGHT_TO_LEFT)
def test_text_from_right_to_left_stands_from_right_to_left(text: str, tmp_path: Path) -> None:
    pdf = drawn(lot(item_name=text), on="4x2")
    assert text[::-1] in _poppler(pdf, tmp_path)
    line = shaped(text, is_bold=True)
    assert "".join(glyph.text for run in line.runs for glyph in run.glyphs) == text[::-1]


@pytest.mark.parametrize("text", EVERY)
@pytest.mark.parametrize("stock", ["2x1", "4x2"])
def test_a_sticker_in_any_script_scans(text: str, stock: str) -> None:
    pdf = drawn(lot(item_name=text, supplier_lot=text), on=stock, shop_name=text)
    assert symbols(rendered(pdf, dpi=203)) == [("DataMatrix", "L-2227")]


@pytest.mark.parametrize("text", [*EVERY, "ปี่ปู่ญู", "شَٰلِّيٍ"])
def test_no_ink_leaves_its_line(text: str) -> None:
    line = shaped(one_line(text), is_bold=True)
    inks = [
        (glyph, run.font.em, run.font.type.get_glyph_extents(glyph.number))
        for run in line.runs
        for glyph in run.glyphs
    ]
    tops = [glyph.y + ink.y_bearing / em for glyph, em, ink in inks]
    ends = [glyph.y + (ink.y_bearing + ink.height) / em for glyph, em, ink in inks]
    assert max(tops) * line.scale + line.rise <= LINE_TOP + 1e-6
    assert min(ends) * line.scale + line.rise >= LINE_BOTTOM - 1e-6


def test_what_no_font_has_stands_as_its_code_and_controls_of_direction_are_dropped() -> None:
    assert one_line("Hook\ue000 \U0001f3a3") == "Hook[U+E000] \U0001f3a3"
    assert one_line("L-12\u202e34") == "L-1234"


def test_letters_that_join_are_narrower_than_apart_and_the_width_is_the_shaped_one() -> None:
    lam, alef = "\u0644", "\u0627"
    together = width_pt(lam + alef, PLAIN, 10)
    assert together < width_pt(lam, PLAIN, 10) + width_pt(alef, PLAIN, 10)
    assert width_pt(lam + alef, PLAIN, 20) == pytest.approx(2 * together)


def test_a_mark_on_a_letter_of_another_script_is_drawn_by_its_own_font() -> None:
    line = shaped(one_line("G\u0e49"), is_bold=False)
    assert len(line.runs) == 2
    assert 0 not in {glyph.number for run in line.runs for glyph in run.glyphs}


def test_marks_are_never_cut_from_their_letters() -> None:
    assert clusters("น้ำ") == ["น้", "ำ"]
    lines = wrapped("น้ำ" * 20, PLAIN, space_pt=40, size_pt=10)
    assert "".join(lines) == "น้ำ" * 20
    assert not any(line.startswith("\u0e49") for line in lines)


def test_chinese_breaks_between_any_letters_but_not_before_a_closing_mark() -> None:
    lines = wrapped("Hook 三叉鱼钩红色三叉鱼钩。红色", PLAIN, space_pt=62, size_pt=10)
    assert lines[0].startswith("Hook 三")
    assert not any(line.startswith("。") for line in lines)


@given(text=st.text(st.sampled_from("".join(EVERY)), max_size=60), space_pt=st.floats(20, 300))
def test_no_line_of_any_script_is_wider_than_its_space(text: str, space_pt: float) -> None:
    fit = fitted(text, PLAIN, space_pt=space_pt, size_pt=12, size_min_pt=6)
    assert width_pt(fit.text, PLAIN, fit.size_pt) <= space_pt + 1e-6


def test_latin_text_opens_no_other_font() -> None:
    code = (
        "from batches.labels.pdf.text import fitted, PLAIN;"
        "from batches.labels.pdf.fonts import fonts_of;"
        "fitted('Hook', PLAIN, space_pt=9, size_pt=9, size_min_pt=5);"
        "print(fonts_of.cache_info().currsize)"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)  # noqa: S603
    assert told.stdout.strip() == b"0"


# Second opinion: python-bidi, which goes by the tests of the Unicode Consortium.
@given(text=LETTERS)
def test_the_order_of_letters_is_that_of_another_implementation(text: str) -> None:
    assert "".join(text[place] for place in visual(levels(text))) == bidi.get_display(text)
