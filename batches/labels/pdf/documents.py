"""Papers of several pages: rows that go on from page to page, each page with its number."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, NamedTuple

from batches.labels.pdf.sheet import Sheet
from batches.labels.pdf.text import ASCENT, LINE_HEIGHT, PLAIN, width_pt

FOOT_PT: Final = 8.0
FRAME_PT: Final = 0.5


class Row(NamedTuple):
    """A row of a page.

    Attributes:
        height_pt: What it takes.
        draw: Draws it, given its top.
        is_with_next: Whether it may not be the last of a page: a heading.
    """

    height_pt: float
    draw: Callable[[float], None]
    is_with_next: bool = False


def draw_document(
    sheet: Sheet,
    rows: Sequence[Row],
    *,
    code: str,
    first: Row,
    other: Row,
) -> None:
    """Draw rows on as many pages as they take, with `1 of 3` at the foot of each.

    Args:
        sheet: The first page.
        rows: None is higher than a page has room for.
        code: Of the paper, in the foot.
        first: Head of the first page.
        other: Head of each further page.
    """
    bottom = sheet.bottom_pt - LINE_HEIGHT * FOOT_PT
    room = bottom - sheet.margin_pt
    pages = _pages(rows, room - first.height_pt, room - other.height_pt)
    for number, page in enumerate(pages, 1):
        if number > 1:
            sheet.next_page()
        top = sheet.margin_pt
        for row in (first if number == 1 else other, *page):
            row.draw(top)
            top += row.height_pt
        _foot(sheet, f"{code}, page {number} of {len(pages)}")


def _pages(rows: Sequence[Row], first_pt: float, other_pt: float) -> list[list[Row]]:
    """Rows by page; a heading goes to the next page with what it is over."""
    pages: list[list[Row]] = [[]]
    left = first_pt
    for place, row in enumerate(rows):
        needed = row.height_pt
        for before, after in zip(rows[place:], rows[place + 1 :], strict=False):
            if not before.is_with_next:
                break
            needed += after.height_pt
        if needed > left and pages[-1]:
            pages.append([])
            left = other_pt
        pages[-1].append(row)
        left -= row.height_pt
    return pages


def _foot(sheet: Sheet, text: str) -> None:
    left = sheet.width_pt - sheet.margin_pt - width_pt(text, PLAIN, FOOT_PT)
    top = sheet.bottom_pt - LINE_HEIGHT * FOOT_PT
    sheet.lines([text], at=(left, top), size_pt=FOOT_PT)


def frame(sheet: Sheet, *, at: tuple[float, float], width_pt: float, height_pt: float) -> None:
    """Draw an empty box to write in."""
    left, top = at
    for height_top in (top, top + height_pt - FRAME_PT):
        sheet.black(left, height_top, width_pt, FRAME_PT)
    for side_left in (left, left + width_pt - FRAME_PT):
        sheet.black(side_left, top, FRAME_PT, height_pt)


def write_line(
    sheet: Sheet, words: str, *, at: tuple[float, float], space_pt: float, size_pt: float
) -> None:
    """Draw words and a line behind them to write on."""
    left, top = at
    sheet.lines([words], at=at, size_pt=size_pt)
    start = width_pt(words, PLAIN, size_pt) + size_pt / 2
    baseline = top + (ASCENT + 0.1) * size_pt
    sheet.black(left + start, baseline, max(0.0, space_pt - start), FRAME_PT)
