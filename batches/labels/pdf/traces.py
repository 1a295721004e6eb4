"""Traces: the drawing, on one page or in parts, then what became of it and all edges as tables."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import IO, Final, NamedTuple

from batches.labels.pdf.blocks import GAP_PT, head
from batches.labels.pdf.documents import (
    LINE_PT,
    OTHER_PT,
    SIZE_MIN_PT,
    SIZE_PT,
    Column,
    Row,
    draw_document,
)
from batches.labels.pdf.pages import Pages
from batches.labels.pdf.sheet import Sheet
from batches.labels.pdf.text import ASCENT, BOLD, PLAIN
from batches.labels.rules.papers_trace import TracePaper
from batches.labels.rules.stock import PrintJob
from batches.trace.rules.drawing import (
    CARD_WIDTH,
    PAD,
    PAGE_HEIGHT,
    PAGE_WIDTH,
    PRINT_SCALE,
    Drawing,
    Placed,
    pages_of,
)
from batches.trace.rules.svg import words_of

HEAD_PT: Final = 32.0
SCALE_MIN: Final = 0.68
"""Of a drawing that is shrunk to one page: what was 7 points high is 4.8."""
TABLE_PT: Final = 8.0
ROW_PT: Final = 11.0


class View(NamedTuple):
    """The part of a drawing on one page: its left and top, and how large it is drawn."""

    left: float
    top: float
    scale: float


def write_trace(paper: TracePaper, *, job: PrintJob, file: IO[bytes]) -> int:
    """Draw a trace on sheets that lie on their side; returns the number of pages.

    Args:
        paper: What it says.
        job: On sheets of at least Letter or A4, lying.
        file: Where to.
    """
    pages = Pages(file, job=job, title=paper.title)
    sheet = pages.label()
    views = views_of(paper.drawing)
    for number, view in enumerate(views, 1):
        if number > 1:
            sheet.next_page()
        part = f"part {number} of {len(views)}, {place_of(view)}" if len(views) > 1 else ""
        _head(sheet, paper, ", ".join(filter(None, ("Drawing", part))))
        _view(sheet, paper.drawing, view)
    for rows in (_totals(sheet, paper), _edges(sheet, paper)):
        if rows:
            sheet.next_page()
            first, *others = rows
            headed = Row(OTHER_PT, partial(_table_head, sheet, paper, first))
            draw_document(sheet, others, code=paper.title, first=headed, other=headed)
    return pages.save()


def views_of(drawing: Drawing) -> list[View]:
    """All of it on one page where it can still be read so, else page by page."""
    room = PAGE_WIDTH * PRINT_SCALE, PAGE_HEIGHT * PRINT_SCALE
    size = max(drawing.width, 1), max(drawing.height, 1)
    whole = min(1.0, room[0] / size[0], room[1] / size[1])
    if whole >= SCALE_MIN:
        return [View(0, 0, whole)]
    return [
        View(column * PAGE_WIDTH, row * PAGE_HEIGHT, PRINT_SCALE)
        for row, column in pages_of(drawing)
    ]


def place_of(view: View) -> str:
    """Where a part belongs when they are laid side by side."""
    return f"row {view.top / PAGE_HEIGHT + 1:.0f}, column {view.left / PAGE_WIDTH + 1:.0f}"


def _head(sheet: Sheet, paper: TracePaper, words: str) -> None:
    top = head(sheet, note=f"As of {paper.as_of}", size_pt=SIZE_PT)
    sheet.line(
        f"{paper.title}. {words}. {paper.drawing.picture.about}",
        at=(sheet.margin_pt, top + GAP_PT),
        space_pt=sheet.inner_width_pt,
        size_pt=SIZE_PT,
        size_min_pt=SIZE_MIN_PT,
        face=BOLD,
    )


def _view(sheet: Sheet, drawing: Drawing, view: View) -> None:
    left, top = sheet.margin_pt, sheet.margin_pt + HEAD_PT
    width, height = PAGE_WIDTH * PRINT_SCALE, PAGE_HEIGHT * PRINT_SCALE

    def on_page(x: float, y: float) -> tuple[float, float]:
        return left + (x - view.left) * view.scale, top + (y - view.top) * view.scale

    with sheet.strokes.within(left, top, width, height):
        for curve in drawing.curves:
            sheet.strokes.curve([on_page(*point) for point in curve])
    for placed in drawing.placed:
        at = on_page(placed.left, placed.top)
        if left <= at[0] < left + width and top <= at[1] < top + height:
            _card(sheet, placed, at, view.scale)


def _card(sheet: Sheet, placed: Placed, at: tuple[float, float], scale: float) -> None:
    card = placed.card
    sheet.strokes.card(
        at,
        width=CARD_WIDTH * scale,
        height=card.height * scale,
        radius=(8 if card.is_event else 1) * scale,
        gray=0.95 if card.is_event else 1,
        thick=2 if card.is_start else 0.6,
    )
    for words in words_of(card):
        room = (CARD_WIDTH - 2 * PAD) * scale
        size = words.size * scale
        x = at[0] + words.x * scale - (room if words.is_right else 0)
        sheet.line(
            words.text,
            at=(x, at[1] + words.y * scale - ASCENT * size),
            space_pt=room,
            size_pt=size,
            size_min_pt=size * 0.7,
            face=BOLD if words.is_bold else PLAIN,
            is_right=words.is_right,
        )


Cells = Sequence[tuple[str, Column, bool]]
"""Words, column, and whether they end at its right."""

TOTALS: Final = (
    ("Item", Column(0.0, 0.25), False),
    ("What became of it", Column(0.25, 0.2), False),
    ("Amount", Column(0.45, 0.17), True),
    ("By share", Column(0.63, 0.17), True),
    ("Up to", Column(0.81, 0.17), True),
)
EDGES: Final = (
    ("When", Column(0.0, 0.12), False),
    ("Stage and batch", Column(0.12, 0.15), False),
    ("Lot taken", Column(0.27, 0.2), False),
    ("Amount", Column(0.47, 0.1), True),
    ("Lot made", Column(0.58, 0.2), False),
    ("Amount", Column(0.78, 0.1), True),
    ("Up to", Column(0.89, 0.11), True),
)


def _totals(sheet: Sheet, paper: TracePaper) -> list[Row]:
    return _table(sheet, TOTALS, paper.totals)


def _edges(sheet: Sheet, paper: TracePaper) -> list[Row]:
    return _table(sheet, EDGES, paper.edges)


def _table(sheet: Sheet, columns: Cells, rows: Sequence[Sequence[str]]) -> list[Row]:
    """The heads, then the rows; nothing for no rows."""
    heads = Row(LINE_PT, partial(_row, sheet, columns, [words for words, _, _ in columns], BOLD))
    drawn = [Row(ROW_PT, partial(_row, sheet, columns, row, PLAIN)) for row in rows]
    return [heads, *drawn] if drawn else []


def _row(sheet: Sheet, columns: Cells, row: Sequence[str], face: str, top: float) -> None:
    for text, (_, column, is_right) in zip(row, columns, strict=True):
        sheet.line(
            text,
            at=(column.left_pt(sheet), top),
            space_pt=column.width_pt(sheet),
            size_pt=TABLE_PT,
            size_min_pt=SIZE_MIN_PT,
            face=face,
            is_right=is_right,
        )


def _table_head(sheet: Sheet, paper: TracePaper, heads: Row, _top: float) -> None:
    _head(sheet, paper, "Table")
    top = sheet.margin_pt + OTHER_PT - LINE_PT - 3
    heads.draw(top)
    sheet.rule(top_pt=top + ROW_PT, thick_pt=0.7)
