"""Packing lists: what left to a customer, box by box, with lots and totals and no prices."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import Final

from batches.labels.pdf.blocks import GAP_PT, block
from batches.labels.pdf.documents import (
    LINE_PT,
    OTHER_PT,
    SIZE_MIN_PT,
    SIZE_PT,
    SYMBOL_PT,
    TITLE_PT,
    Column,
    Row,
    column_heads,
    draw_document,
    further_head,
    title_head,
)
from batches.labels.pdf.sheet import Sheet
from batches.labels.pdf.text import BOLD, LINE_HEIGHT, PLAIN, width_pt, wrapped
from batches.labels.rules.papers_packing import PackedBox, PackedLine, PackedTotal, PackingList

FIRST_PT: Final = 158.0
ADDRESS_PT: Final = 62.0
PAD_PT: Final = 3.0
LOOSE: Final = "In no box"

WHAT: Final = Column(0.0, 0.40)
ITEM: Final = Column(0.41, 0.18)
LOTS: Final = Column(0.60, 0.27)
PIECES: Final = Column(0.88, 0.12)


def draw_packing_list(sheet: Sheet, paper: PackingList) -> None:
    """Draw a packing list, on as many pages as it takes; nothing of it is cut but long names."""
    rows: list[Row] = []
    for box in paper.boxes:
        rows.append(Row(LINE_PT + 2 * PAD_PT, partial(_box, sheet, box), is_with_next=True))
        for line in box.lines:
            rows += _lines(sheet, line)
    rows.append(Row(LINE_PT + 4 * PAD_PT, partial(_totals_head, sheet), is_with_next=True))
    rows += [Row(LINE_PT, partial(_total, sheet, total)) for total in paper.totals]
    rows.append(Row(LINE_PT + 2 * PAD_PT, partial(_all, sheet, paper)))
    draw_document(
        sheet,
        rows,
        code=paper.code,
        first=Row(FIRST_PT, partial(_first, sheet, paper)),
        other=Row(OTHER_PT, partial(_other, sheet, paper)),
    )


def _first(sheet: Sheet, paper: PackingList, _top: float) -> None:
    title = f"Packing list {paper.code}"
    left, below = title_head(sheet, note=paper.print_note, code=paper.code, title=title)
    space = sheet.width_pt - sheet.margin_pt - left
    symbol_bottom = below - LINE_HEIGHT * TITLE_PT + SYMBOL_PT
    for text in (
        f"Shipped {paper.shipped_on}",
        f"Order {paper.order}" if paper.order else "",
        f"By {paper.carrier}" if paper.carrier else "",
    ):
        if text:
            below = sheet.line(
                text, at=(left, below), space_pt=space, size_pt=SIZE_PT, size_min_pt=SIZE_MIN_PT
            )
    _ship_to(sheet, paper, symbol_bottom + GAP_PT)
    _columns(sheet, sheet.margin_pt + FIRST_PT)


def _ship_to(sheet: Sheet, paper: PackingList, top: float) -> None:
    name = block(
        f"To {paper.ship_to[0]}",
        BOLD,
        space_pt=sheet.inner_width_pt,
        height_pt=2 * LINE_PT,
        size_pt=12,
        size_min_pt=SIZE_MIN_PT,
    )
    below = sheet.lines(name.lines, at=(sheet.margin_pt, top), size_pt=name.size_pt, face=BOLD)
    address = block(
        ", ".join(paper.ship_to[1:]),
        PLAIN,
        space_pt=sheet.inner_width_pt,
        height_pt=top + ADDRESS_PT - LINE_PT - below,
        size_pt=SIZE_PT,
        size_min_pt=SIZE_MIN_PT,
    )
    sheet.lines(address.lines, at=(sheet.margin_pt, below), size_pt=address.size_pt)


def _other(sheet: Sheet, paper: PackingList, _top: float) -> None:
    title = f"Packing list {paper.code} to {paper.ship_to[0]}, continued"
    further_head(sheet, note=paper.print_note, title=title)
    _columns(sheet, sheet.margin_pt + OTHER_PT)


def _columns(sheet: Sheet, bottom: float) -> None:
    _right(sheet, "Pieces", bottom - LINE_PT - 3, BOLD)
    column_heads(sheet, (("What", WHAT), ("Item", ITEM), ("Lots", LOTS)), bottom=bottom)


def _box(sheet: Sheet, box: PackedBox, top: float) -> None:
    words = [
        f"Box {box.code}" if box.code else LOOSE,
        f"in box {box.outer}" if box.outer else "",
        f"SSCC (00){box.sscc}" if box.sscc else "",
    ]
    sheet.line(
        ", ".join(filter(None, words)),
        at=(sheet.margin_pt, top + 2 * PAD_PT),
        space_pt=PIECES.left_pt(sheet) - sheet.margin_pt - GAP_PT,
        size_pt=SIZE_PT,
        size_min_pt=SIZE_MIN_PT,
        face=BOLD,
    )
    _right(sheet, str(box.pieces), top + 2 * PAD_PT, BOLD)


def _lines(sheet: Sheet, line: PackedLine) -> Iterator[Row]:
    """A line of a box; its lots go on below it, a row each line, so that they may cross pages."""
    lots = _lots(line.lots, LOTS.width_pt(sheet))
    yield Row(LINE_PT, partial(_line, sheet, line, lots[0]))
    for more in lots[1:]:
        yield Row(LINE_PT, partial(_more_lots, sheet, more))


def _lots(lots: Sequence[str], space: float) -> list[str]:
    """Lots in lines that fit; one is broken only where it is wider than a line."""
    lines = [""]
    for place, lot in enumerate(lots):
        text = lot if place == len(lots) - 1 else f"{lot},"
        longer = f"{lines[-1]} {text}".strip()
        if width_pt(longer, PLAIN, SIZE_PT) <= space:
            lines[-1] = longer
        else:
            lines += wrapped(text, PLAIN, space_pt=space, size_pt=SIZE_PT)
    return list(filter(None, lines))


def _line(sheet: Sheet, line: PackedLine, lots: str, top: float) -> None:
    purpose = f"({line.purpose})" if line.purpose else ""
    _cell(sheet, " ".join(filter(None, (line.title, line.subtitle, purpose))), WHAT, top)
    _cell(sheet, line.item, ITEM, top)
    _more_lots(sheet, lots, top)
    _right(sheet, str(line.pieces), top, PLAIN)


def _more_lots(sheet: Sheet, lots: str, top: float) -> None:
    sheet.lines([lots], at=(LOTS.left_pt(sheet), top), size_pt=SIZE_PT)


def _totals_head(sheet: Sheet, top: float) -> None:
    sheet.rule(top_pt=top + 2 * PAD_PT, thick_pt=1)
    at = (sheet.margin_pt, top + 4 * PAD_PT)
    sheet.lines(["In all"], at=at, size_pt=SIZE_PT, face=BOLD)


def _total(sheet: Sheet, total: PackedTotal, top: float) -> None:
    _cell(sheet, " ".join(filter(None, (total.title, total.subtitle))), WHAT, top)
    _cell(sheet, total.item, ITEM, top)
    _right(sheet, str(total.pieces), top, PLAIN)


def _all(sheet: Sheet, paper: PackingList, top: float) -> None:
    boxes = sum(1 for box in paper.boxes if box.code)
    words = f"{boxes} {'box' if boxes == 1 else 'boxes'}, pieces in all"
    sheet.lines([words], at=(sheet.margin_pt, top + PAD_PT), size_pt=SIZE_PT, face=BOLD)
    _right(sheet, str(paper.pieces), top + PAD_PT, BOLD)


def _cell(sheet: Sheet, text: str, column: Column, top: float) -> None:
    sheet.line(
        text,
        at=(column.left_pt(sheet), top),
        space_pt=column.width_pt(sheet),
        size_pt=SIZE_PT,
        size_min_pt=SIZE_MIN_PT,
    )


def _right(sheet: Sheet, text: str, top: float, face: str) -> None:
    """A number, ending at the right margin."""
    left = sheet.width_pt - sheet.margin_pt - width_pt(text, face, SIZE_PT)
    sheet.lines([text], at=(left, top), size_pt=SIZE_PT, face=face)
