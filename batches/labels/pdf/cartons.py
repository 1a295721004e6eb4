"""Carton labels: to whom, what is in it, and the SSCC that a carrier scans.

Bars where they fit, all in one Data Matrix where they do not; the text beside a symbol is what it
carries, one to one.
"""

from __future__ import annotations

from contextlib import suppress
from typing import Final

from batches.labels.pdf.blocks import GAP_PT, block, head
from batches.labels.pdf.sheet import Sheet
from batches.labels.pdf.text import BOLD, LINE_HEIGHT, PLAIN, width_pt
from batches.labels.rules.papers import BoxItem, pieces_text
from batches.labels.rules.papers_packing import CartonLabel
from shopfloor.codes.errors import SymbolSpaceError, SymbolTextError
from shopfloor.codes.fitting import PlannedSymbol, Space, Use, symbol_plan
from shopfloor.codes.gs1.elements import ElementString, element_string
from shopfloor.codes.symbols import SymbolKind

SYMBOLS_RATIO: Final = 0.56
"""Most of the height that symbols take; the rest says what people read."""
HUMAN_PT: Final = 8.0
HUMAN_MIN_PT: Final = 5.0
MODULE_2D_PT: Final = 4.0
TEXT_RATIO: Final = 0.028
TEXT_PT: Final = (6.5, 12.0)
"""Smallest and largest size of type."""
TO_RATIO: Final = 0.45
"""Height of name and address, of what is above the symbols."""
BESIDE_RATIO: Final = 0.34
"""Width of box, order and carrier beside them."""
NO_ADDRESS: Final = "Ship to:"


def draw_carton_label(sheet: Sheet, label: CartonLabel) -> None:
    """Draw a carton label on one label, the symbols at its bottom.

    Raises:
        SymbolSpaceError: the label is too small for a symbol that a carrier's reader reads.
    """
    bottom = sheet.bottom_pt
    for planned in reversed(_planned(sheet, label.elements)):
        draw = _square if planned.kind is SymbolKind.DATAMATRIX else _bars
        bottom = draw(sheet, planned, bottom)
    size = min(max(TEXT_RATIO * sheet.inner_height_pt, TEXT_PT[0]), TEXT_PT[1])
    top = head(sheet, note=label.print_note, size_pt=size)
    sheet.rule(top_pt=top + 1, thick_pt=1)
    top = _ship_to(sheet, label, top + GAP_PT, bottom, size)
    sheet.rule(top_pt=top, thick_pt=1)
    _contents(sheet, label, top + GAP_PT, bottom - GAP_PT, size)


def _planned(sheet: Sheet, elements: ElementString) -> list[PlannedSymbol]:
    """Symbols from the top: all in bars, else the SSCC in bars under a square one with everything.

    Where no bars fit, the square one alone.
    """
    height = sheet.dots_in(SYMBOLS_RATIO * sheet.inner_height_pt)
    with suppress(SymbolSpaceError, SymbolTextError):
        return [*_plan(sheet, elements, SymbolKind.CODE128, height)]
    with suppress(SymbolSpaceError):
        sscc = element_string([each for each in elements.elements if each.ai == "00"])
        bars = _plan(sheet, sscc, SymbolKind.CODE128, height)
        height_left = height - sheet.dots_in(_bars_pt(sheet, bars[0]))
        return [*_plan(sheet, elements, SymbolKind.DATAMATRIX, height_left), *bars]
    return [*_plan(sheet, elements, SymbolKind.DATAMATRIX, height)]


def _plan(
    sheet: Sheet, elements: ElementString, kind: SymbolKind, height_dots: int
) -> tuple[PlannedSymbol, ...]:
    is_bars = kind is SymbolKind.CODE128
    return symbol_plan(
        elements,
        kinds=[kind],
        space=Space(sheet.dots_in(sheet.inner_width_pt), height_dots),
        dpi=sheet.dpi,
        use=Use.LOGISTICS,
        text_dots=sheet.dots_in(LINE_HEIGHT * HUMAN_PT + GAP_PT) if is_bars else 0,
        module_dots_max=None if is_bars else sheet.dots_in(MODULE_2D_PT),
    ).symbols


def _bars_pt(sheet: Sheet, planned: PlannedSymbol) -> float:
    """Height of a symbol of bars with the text under it."""
    return sheet.dots_pt(planned.height_dots) + LINE_HEIGHT * HUMAN_PT + GAP_PT


def _bars(sheet: Sheet, planned: PlannedSymbol, bottom: float) -> float:
    """One symbol of bars in the middle, its text under it."""
    text = block(
        planned.human,
        PLAIN,
        space_pt=sheet.inner_width_pt,
        height_pt=LINE_HEIGHT * HUMAN_PT,
        size_pt=HUMAN_PT,
        size_min_pt=HUMAN_MIN_PT,
    )
    text_top = bottom - LINE_HEIGHT * HUMAN_PT
    left = (sheet.width_pt - width_pt(planned.human, PLAIN, text.size_pt)) / 2
    sheet.lines(text.lines, at=(left, text_top), size_pt=text.size_pt)
    top = text_top - sheet.dots_pt(planned.height_dots) - GAP_PT / 2
    space = sheet.dots_in(sheet.width_pt)
    sheet.symbol(planned, left_dots=(space - planned.width_dots) // 2, top_dots=sheet.dots_in(top))
    return bottom - _bars_pt(sheet, planned)


def _square(sheet: Sheet, planned: PlannedSymbol, bottom: float) -> float:
    """A square symbol at the left, an element a line beside it; returns where both begin."""
    side = sheet.dots_pt(planned.width_dots)
    start = bottom - side
    sheet.symbol(planned, left_dots=sheet.dots_in(sheet.margin_pt), top_dots=sheet.dots_in(start))
    left = sheet.margin_pt + side + GAP_PT
    lines = [f"({each}" for each in planned.human.split("(") if each]
    size = min(HUMAN_PT, side / (LINE_HEIGHT * len(lines)))
    top = start
    for line in lines:
        top = sheet.line(
            line,
            at=(left, top),
            space_pt=sheet.width_pt - sheet.margin_pt - left,
            size_pt=size,
            size_min_pt=HUMAN_MIN_PT,
        )
    return start


def _ship_to(sheet: Sheet, label: CartonLabel, top: float, bottom: float, size: float) -> float:
    """To whom, or room to write it; order and carrier beside. Returns where the rest begins."""
    left, space = sheet.margin_pt, sheet.inner_width_pt
    width = BESIDE_RATIO * space
    beside = top
    for text, face in (
        (f"Box {label.code}", BOLD),
        (f"Order {label.order}" if label.order else "", PLAIN),
        (f"By {label.carrier}" if label.carrier else "", PLAIN),
    ):
        if text:
            beside = sheet.line(
                text,
                at=(left + space - width, beside),
                space_pt=width,
                size_pt=size,
                size_min_pt=HUMAN_MIN_PT,
                face=face,
            )
    end = max(beside, top + TO_RATIO * (bottom - top))
    space -= width + GAP_PT
    name = block(
        f"To {label.ship_to[0]}" if label.ship_to else NO_ADDRESS,
        BOLD,
        space_pt=space,
        height_pt=0.6 * (end - top),
        size_pt=1.6 * size,
        size_min_pt=HUMAN_MIN_PT,
    )
    top = sheet.lines(name.lines, at=(left, top), size_pt=name.size_pt, face=BOLD)
    address = block(
        ", ".join(label.ship_to[1:]),
        PLAIN,
        space_pt=space,
        height_pt=end - top,
        size_pt=1.2 * size,
        size_min_pt=HUMAN_MIN_PT,
    )
    sheet.lines(address.lines, at=(left, top), size_pt=address.size_pt)
    return end + GAP_PT / 2


def _contents(sheet: Sheet, label: CartonLabel, top: float, bottom: float, size: float) -> None:
    """How many in all, then as many items as fit, and how many are left out."""
    if len(label.items) == 1:
        _item(sheet, label.items[0], top, bottom, size)
        return
    line = LINE_HEIGHT * size
    top = _line(sheet, f"{pieces_text(label.pieces)} in all", top, size, BOLD)
    for place, item in enumerate(label.items):
        rest = len(label.items) - place
        after = 0.0 if rest == 1 else line
        if top + line + after > bottom:
            _line(sheet, f"and {rest} more: scan the code", top, size, PLAIN)
            return
        top = _item(sheet, item, top, bottom - after, size)


def _item(sheet: Sheet, item: BoxItem, top: float, bottom: float, size: float) -> float:
    """Pieces, model and colorway, then lots in at most two lines."""
    title = f"{pieces_text(item.pieces)}: {' '.join(filter(None, (item.title, item.subtitle)))}"
    top = _line(sheet, f"{title}, {item.item}", top, size, BOLD)
    small = max(TEXT_PT[0], 0.8 * size)
    height = min(bottom - top, 2 * LINE_HEIGHT * small)
    many = len(item.lots) > 1
    # A lot is never cut: they stand whole, or are counted.
    for text in (f"Lot{'s' * many} {', '.join(item.lots)}", f"{len(item.lots)} lots"):
        lots = block(
            text,
            PLAIN,
            space_pt=sheet.inner_width_pt,
            height_pt=height,
            size_pt=small,
            size_min_pt=HUMAN_MIN_PT,
        )
        if lots.is_whole:
            return sheet.lines(lots.lines, at=(sheet.margin_pt, top), size_pt=lots.size_pt)
    return top


def _line(sheet: Sheet, text: str, top: float, size: float, face: str) -> float:
    return sheet.line(
        text,
        at=(sheet.margin_pt, top),
        space_pt=sheet.inner_width_pt,
        size_pt=size,
        size_min_pt=HUMAN_MIN_PT,
        face=face,
    )
