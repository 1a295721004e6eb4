"""Papers of several pages: rows that go on from page to page, each page with its number."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, NamedTuple

from batches.labels.pdf.blocks import GAP_PT, head
from batches.labels.pdf.sheet import Sheet
from batches.labels.pdf.text import ASCENT, BOLD, LINE_HEIGHT, PLAIN, width_pt

FOOT_PT: Final = 8.0
FRAME_PT: Final = 0.5
SIZE_PT: Final = 10.0
SIZE_MIN_PT: Final = 6.0
TITLE_PT: Final = 18.0
LINE_PT: Final = LINE_HEIGHT * SIZE_PT
SYMBOL_PT: Final = 66.0
SYMBOL_MODULE_PT: Final = 4.4
OTHER_PT: Final = 56.0
"""Height of the head of each further page."""


class Column(NamedTuple):
    """A column of a table; both are shares of the width between the margins."""

    left: float
    width: float

    def left_pt(self, sheet: Sheet) -> float:
        """Where it begins."""
        return sheet.margin_pt + self.left * sheet.inner_width_pt

    def width_pt(self, sheet: Sheet) -> float:
        """How wide it is, short of the next."""
        return self.width * sheet.inner_width_pt - GAP_PT


class Row(NamedTuple):
    """A row of a page.

    Attributes:
        height_pt: What it takes.
        draw: Draws it, given its top.
        is_with_next: Whether it may not be the last of a page: a heading.
        again: What is drawn once more above it where it begins a page: the head of its table.
    """

    height_pt: float
    draw: Callable[[float], None]
    is_with_next: bool = False
    again: Row | None = None


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


def title_head(sheet: Sheet, *, note: str, code: str, title: str) -> tuple[float, float]:
    """Draw the top line, the symbol and the title of a first page.

    Returns:
        Left and top of what stands beside the symbol, below the title.
    """
    top = head(sheet, note=note, size_pt=SIZE_PT)
    sheet.rule(top_pt=top + 1, thick_pt=1)
    top += GAP_PT
    side = sheet.own_code(
        code, at=(sheet.margin_pt, top), space_pt=SYMBOL_PT, module_pt=SYMBOL_MODULE_PT
    )
    left = sheet.margin_pt + side + 2 * GAP_PT
    below = sheet.line(
        title,
        at=(left, top),
        space_pt=sheet.width_pt - sheet.margin_pt - left,
        size_pt=TITLE_PT,
        size_min_pt=SIZE_MIN_PT,
        face=BOLD,
    )
    return left, below


def further_head(sheet: Sheet, *, note: str, title: str) -> None:
    """Draw the top line and the title of a further page."""
    top = head(sheet, note=note, size_pt=SIZE_PT)
    sheet.line(
        title,
        at=(sheet.margin_pt, top + GAP_PT),
        space_pt=sheet.inner_width_pt,
        size_pt=SIZE_PT,
        size_min_pt=SIZE_MIN_PT,
        face=BOLD,
    )


def column_heads(sheet: Sheet, heads: Sequence[tuple[str, Column]], *, bottom: float) -> None:
    """Draw words over columns, and the rule under them."""
    for words, column in heads:
        at = (column.left_pt(sheet), bottom - LINE_PT - 3)
        sheet.lines([words], at=at, size_pt=SIZE_PT, face=BOLD)
    sheet.rule(top_pt=bottom - 2, thick_pt=1)


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
            pages.append([] if row.again is None else [row.again])
            left = other_pt - sum(each.height_pt for each in pages[-1])
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
