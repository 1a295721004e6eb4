"""Reports: facts beside a code, then sections with words, drawings and tables that cross pages."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache, partial
from typing import Final

from batches.labels.pdf.blocks import GAP_PT
from batches.labels.pdf.boxes import draw_box_label
from batches.labels.pdf.charts import chart_row
from batches.labels.pdf.documents import (
    OTHER_PT,
    SYMBOL_PT,
    Column,
    Row,
    draw_document,
    frame,
    further_head,
    title_head,
)
from batches.labels.pdf.lots import draw_lot_label
from batches.labels.pdf.sheet import Sheet
from batches.labels.pdf.text import BOLD, LINE_HEIGHT, PLAIN, width_pt, wrapped
from batches.labels.rules.papers import BoxLabel, LotLabel
from batches.labels.rules.papers_report import Heading, Report, Section, Table
from batches.labels.rules.stock import UM_PER_INCH, dots

TITLE_PT: Final = 12.0
WORDS_PT: Final = 9.0
CELL_PT: Final = 8.0
HEAD_PT: Final = 6.5
PAD_PT: Final = 2.0
THIN_PT: Final = 0.4
LABEL_WIDTH_UM: Final = 4 * UM_PER_INCH
LOT_HEIGHT_UM: Final = 2 * UM_PER_INCH
BOX_HEIGHT_UM: Final = 3 * UM_PER_INCH
LINES_MAX: Final = 50
"""Of a row; cells that are longer go on in another row, since none may be higher than a page."""


def draw_report(sheet: Sheet, paper: Report) -> None:
    """Draw a report on as many pages as it takes; nothing of its tables is cut."""
    facts = _facts(sheet, paper)
    draw_document(
        sheet,
        [row for section in paper.sections for row in _section(sheet, section)],
        code=paper.code,
        first=Row(_first_height(facts), partial(_first, sheet, paper, facts)),
        other=Row(OTHER_PT, partial(_other, sheet, paper)),
    )


def _facts(sheet: Sheet, paper: Report) -> list[str]:
    """The facts in lines that fit beside the symbol."""
    space = sheet.inner_width_pt - SYMBOL_PT - 4 * GAP_PT
    return [
        line
        for name, value in paper.facts
        for line in wrapped(f"{name}: {value}", PLAIN, space_pt=space, size_pt=WORDS_PT)
    ]


def _first_height(facts: Sequence[str]) -> float:
    return max(112.0, 46 + len(facts) * LINE_HEIGHT * WORDS_PT)


def _first(sheet: Sheet, paper: Report, facts: Sequence[str], _top: float) -> None:
    left, below = title_head(sheet, note=paper.print_note, code=paper.code, title=paper.title)
    sheet.lines(facts, at=(left, below + 2), size_pt=WORDS_PT)


def _other(sheet: Sheet, paper: Report, _top: float) -> None:
    further_head(sheet, note=paper.print_note, title=f"{paper.title}, continued")


def _section(sheet: Sheet, section: Section) -> Iterator[Row]:
    yield Row(
        LINE_HEIGHT * TITLE_PT + 4 * PAD_PT,
        partial(_title, sheet, section.title),
        is_with_next=True,
    )
    for words in section.words:
        lines = wrapped(words, PLAIN, space_pt=sheet.inner_width_pt, size_pt=WORDS_PT)
        for line in lines:
            yield Row(LINE_HEIGHT * WORDS_PT, partial(_words, sheet, line))
    if section.drawing is not None:
        yield chart_row(sheet, section.drawing)
    if section.table is not None:
        yield from _table(sheet, section.table)
    for specimen in section.specimens:
        yield _specimen(sheet, specimen)


def _specimen(sheet: Sheet, paper: LotLabel | BoxLabel) -> Row:
    """A label as it is printed, in a frame."""
    height_um = LOT_HEIGHT_UM if isinstance(paper, LotLabel) else BOX_HEIGHT_UM
    height = sheet.dots_pt(dots(height_um, sheet.dpi))
    width = sheet.dots_pt(dots(LABEL_WIDTH_UM, sheet.dpi))

    def draw(top: float) -> None:
        at = (sheet.margin_pt, top + PAD_PT)
        frame(sheet, at=at, width_pt=width, height_pt=height)
        label = sheet.inset(at=at, width_um=LABEL_WIDTH_UM, height_um=height_um)
        if isinstance(paper, LotLabel):
            draw_lot_label(label, paper)
        else:
            draw_box_label(label, paper)

    return Row(height + 4 * PAD_PT, draw)


def _title(sheet: Sheet, title: str, top: float) -> None:
    sheet.lines([title], at=(sheet.margin_pt, top + 3 * PAD_PT), size_pt=TITLE_PT, face=BOLD)


def _words(sheet: Sheet, line: str, top: float) -> None:
    sheet.lines([line], at=(sheet.margin_pt, top), size_pt=WORDS_PT)


def _table(sheet: Sheet, table: Table) -> Iterator[Row]:
    """The head, again on each page, and the rows."""
    if not table.rows:
        yield Row(LINE_HEIGHT * WORDS_PT, partial(_words, sheet, table.nothing))
        return
    names = [heading.words for heading in table.headings]
    (head,) = _rows(sheet, table.headings, names, BOLD, HEAD_PT)
    head = head._replace(is_with_next=True)
    yield head
    for cells in table.rows:
        for row in _rows(sheet, table.headings, cells, PLAIN, CELL_PT):
            yield row._replace(again=head)


def _columns(headings: Sequence[Heading]) -> Iterator[Column]:
    left = 0.0
    for heading in headings:
        yield Column(left, heading.share)
        left += heading.share


def _rows(
    sheet: Sheet, headings: Sequence[Heading], cells: Sequence[str], face: str, size_pt: float
) -> Iterator[Row]:
    """One row, or as many as its longest cell takes."""
    columns = list(_columns(headings))
    lines = [
        _lines(cell, face, size_pt, column.width_pt(sheet)) if cell else ()
        for cell, column in zip(cells, columns, strict=True)
    ]
    for first in range(0, max(1, *map(len, lines)), LINES_MAX):
        part = [each[first : first + LINES_MAX] for each in lines]
        height = max(1, *map(len, part)) * LINE_HEIGHT * size_pt + 2 * PAD_PT
        yield Row(height, partial(_cells, sheet, headings, columns, part, face, size_pt))


@lru_cache(maxsize=1024)
def _lines(cell: str, face: str, size_pt: float, space: float) -> Sequence[str]:
    """Most cells are one line: that is looked at first. Long ones, addresses, come again."""
    if width_pt(cell, face, size_pt) <= space:
        return (cell,)
    return tuple(wrapped(cell, face, space_pt=space, size_pt=size_pt))


def _cells(
    sheet: Sheet,
    headings: Sequence[Heading],
    columns: Sequence[Column],
    cells: Sequence[Sequence[str]],
    face: str,
    size_pt: float,
    top: float,
) -> None:
    sheet.rule(top_pt=top, thick_pt=THIN_PT)
    for heading, column, lines in zip(headings, columns, cells, strict=True):
        line_top = top + PAD_PT
        for line in lines:
            left = column.left_pt(sheet)
            if heading.is_right:
                left += column.width_pt(sheet) - width_pt(line, face, size_pt)
            line_top = sheet.lines([line], at=(left, line_top), size_pt=size_pt, face=face)
