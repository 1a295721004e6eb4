"""Count sheets: what to count at a place, blind, with room to write and a code to scan by each."""

from __future__ import annotations

from functools import partial
from typing import Final

from batches.labels.pdf.blocks import GAP_PT, block
from batches.labels.pdf.documents import (
    OTHER_PT,
    SIZE_MIN_PT,
    SIZE_PT,
    Column,
    Row,
    column_heads,
    draw_document,
    frame,
    further_head,
    title_head,
    write_line,
)
from batches.labels.pdf.sheet import Sheet
from batches.labels.pdf.text import BOLD, LINE_HEIGHT, PLAIN
from batches.labels.rules.papers_stock import CountLine, CountSheet
from shopfloor.codes.errors import SymbolSpaceError
from shopfloor.codes.fitting import Space, Use, symbol_plan
from shopfloor.codes.symbols import SymbolKind

FIRST_PT: Final = 112.0
ROW_PT: Final = 40.0
LONG_ROW_PT: Final = 62.0
"""Of a lot whose code needs a larger symbol."""
PAD_PT: Final = 3.0
BLANK_ROWS: Final = 3
"""Room for what is found and not on the sheet."""
SIGN_PT: Final = 34.0
MODULE_PT: Final = 2.2
NOTHING: Final = "By the books nothing is here. Write down what you find."
BLIND: Final = "Count what is there. The amounts of the books are left out on purpose."

SYMBOL: Final = Column(0.0, 0.115)
LOT: Final = Column(0.12, 0.23)
ITEM: Final = Column(0.36, 0.33)
UNIT: Final = Column(0.70, 0.08)
FOUND: Final = Column(0.79, 0.21)
HEADS: Final = (("Lot", LOT), ("Item", ITEM), ("Unit", UNIT), ("Found", FOUND))


def draw_count_sheet(sheet: Sheet, paper: CountSheet) -> None:
    """Draw a count sheet, on as many pages as its lots take."""
    rows = [_row(sheet, line) for line in paper.lines]
    if not paper.lines:
        rows.append(Row(2 * LINE_HEIGHT * SIZE_PT, partial(_nothing, sheet)))
    rows += [Row(ROW_PT, partial(_blank, sheet)) for _ in range(BLANK_ROWS)]
    rows.append(Row(SIGN_PT, partial(_sign, sheet)))
    draw_document(
        sheet,
        rows,
        code=paper.code,
        first=Row(FIRST_PT, partial(_first, sheet, paper)),
        other=Row(OTHER_PT, partial(_other, sheet, paper)),
    )


def _first(sheet: Sheet, paper: CountSheet, _top: float) -> None:
    """Whose, what to count, when it was printed, and the code of the place or item."""
    title = f"Count sheet: {paper.kind} {paper.code}"
    left, top = title_head(sheet, note=paper.print_note, code=paper.code, title=title)
    space = sheet.width_pt - sheet.margin_pt - left
    name = block(
        paper.name,
        PLAIN,
        space_pt=space,
        height_pt=LINE_HEIGHT * 12,
        size_pt=12,
        size_min_pt=SIZE_MIN_PT,
    )
    sheet.lines(name.lines, at=(left, top), size_pt=name.size_pt)
    top += LINE_HEIGHT * 12
    for text in (f"Printed {paper.printed_at}", BLIND):
        top = sheet.line(
            text, at=(left, top), space_pt=space, size_pt=SIZE_PT, size_min_pt=SIZE_MIN_PT
        )
    column_heads(sheet, HEADS, bottom=sheet.margin_pt + FIRST_PT)


def _other(sheet: Sheet, paper: CountSheet, _top: float) -> None:
    title = f"Count sheet: {paper.kind} {paper.code}, printed {paper.printed_at}, continued"
    further_head(sheet, note=paper.print_note, title=title)
    column_heads(sheet, HEADS, bottom=sheet.margin_pt + OTHER_PT)


def _row(sheet: Sheet, line: CountLine) -> Row:
    is_long = not _fits(sheet, line.lot, ROW_PT)
    height = LONG_ROW_PT if is_long else ROW_PT
    return Row(height, partial(_line, sheet, line, height))


def _fits(sheet: Sheet, lot: str, height_pt: float) -> bool:
    """Whether the code of a lot has a symbol that scans in a row of that height."""
    side = sheet.dots_in(height_pt - 2 * PAD_PT)
    try:
        symbol_plan(
            lot,
            kinds=[SymbolKind.DATAMATRIX],
            space=Space(side, side),
            dpi=sheet.dpi,
            use=Use.SHOP,
        )
    except SymbolSpaceError:
        return False
    return True


def _line(sheet: Sheet, line: CountLine, height: float, top: float) -> None:
    inner = height - 2 * PAD_PT
    at = (SYMBOL.left_pt(sheet), top + PAD_PT)
    sheet.own_code(line.lot, at=at, space_pt=inner, module_pt=MODULE_PT)
    place = f" at {line.place}" if line.place else ""
    for text, face, column in (
        (line.lot, BOLD, LOT),
        (f"{line.item} {line.item_name}{place}", PLAIN, ITEM),
        (line.unit, PLAIN, UNIT),
    ):
        cell = block(
            text,
            face,
            space_pt=column.width_pt(sheet),
            height_pt=inner,
            size_pt=SIZE_PT,
            size_min_pt=SIZE_MIN_PT,
        )
        at = (column.left_pt(sheet), top + PAD_PT)
        sheet.lines(cell.lines, at=at, size_pt=cell.size_pt, face=face)
    _found(sheet, top, height)


def _found(sheet: Sheet, top: float, height: float) -> None:
    frame(
        sheet,
        at=(FOUND.left_pt(sheet), top + PAD_PT),
        width_pt=FOUND.width_pt(sheet),
        height_pt=height - 2 * PAD_PT,
    )
    sheet.rule(top_pt=top + height - 0.5, thick_pt=0.25)


def _nothing(sheet: Sheet, top: float) -> None:
    sheet.lines([NOTHING], at=(sheet.margin_pt, top + PAD_PT), size_pt=SIZE_PT, face=BOLD)


def _blank(sheet: Sheet, top: float) -> None:
    """Room for a lot that is there and not on the sheet."""
    at = (sheet.margin_pt, top + ROW_PT / 2 - PAD_PT)
    space = FOUND.left_pt(sheet) - sheet.margin_pt - GAP_PT
    write_line(sheet, "Also here, lot or item:", at=at, space_pt=space, size_pt=SIZE_PT)
    _found(sheet, top, ROW_PT)


def _sign(sheet: Sheet, top: float) -> None:
    width = sheet.inner_width_pt / 3
    for place, words in enumerate(("Counted by", "On, at", "Checked by")):
        at = (sheet.margin_pt + place * width, top + SIGN_PT - 2 * SIZE_PT)
        write_line(sheet, words, at=at, space_pt=width - 2 * GAP_PT, size_pt=SIZE_PT)
