"""The sticker of a lot: what it is, since when, until when, and what its safety data sheet says."""

from __future__ import annotations

from typing import Final, NamedTuple

from batches.labels.pdf.sheet import Sheet
from batches.labels.pdf.text import BOLD, LINE_HEIGHT, PLAIN, width_pt, wrapped
from batches.labels.rules.papers import PICTOGRAMS, SAFETY_ADVICE, LotLabel

TEXT_DOES_NOT_FIT: Final = "HAZARD. The text does not fit here: read the safety data sheet."
"""Instead of a part of the text, which would pass for all of it."""


Line = tuple[str, str, float]
"""Text, face and wanted size."""


BLANK: Final = "_" * 12
"""Room to write a day in by hand."""


class Layout(NamedTuple):
    """Sizes on one stock, in points.

    Attributes:
        facts: Least height for what is not hazard text.
        opened: Height of the line that says when it was opened; 0: there is no room for one.
        is_full: Whether the shop and the supplier's lot are named too.
    """

    code: float
    text: float
    text_min: float
    hazard: float
    hazard_min: float
    facts: float
    gap: float
    opened: float
    is_full: bool


SMALL: Final = Layout(
    code=12, text=7.5, text_min=5, hazard=6, hazard_min=5, facts=36, gap=2, opened=0, is_full=False
)
FULL: Final = Layout(
    code=24, text=12, text_min=6, hazard=9, hazard_min=6, facts=66, gap=5, opened=18, is_full=True
)
FULL_FROM_PT: Final = (280, 140)
"""Width and height from which a label has the full layout."""
SYMBOL_RATIO: Final = 0.4
"""Most of the width that the symbol takes."""
MODULE_PT: Final = 3


def draw_lot_label(sheet: Sheet, label: LotLabel) -> None:
    """Draw a lot sticker: the hazard text below, all else in what it leaves."""
    is_full = sheet.width_pt >= FULL_FROM_PT[0] and sheet.height_pt >= FULL_FROM_PT[1]
    layout = FULL if is_full else SMALL
    left = top = sheet.margin_pt
    bottom = _opened(sheet, label, layout, bottom=_hazard(sheet, label, layout))
    space = min(bottom - top, sheet.inner_width_pt * SYMBOL_RATIO)
    side = sheet.own_code(label.code, at=(left, top), space_pt=space, module_pt=MODULE_PT)
    _facts(sheet, label, layout, left=left + side + layout.gap, bottom=bottom)


def _facts(sheet: Sheet, label: LotLabel, layout: Layout, *, left: float, bottom: float) -> None:
    """All lines, smaller together where they are too high together; the code is never cut."""
    top = sheet.margin_pt
    right = sheet.width_pt - sheet.margin_pt
    demo, demo_bottom = 0.0, top
    if sheet.job.is_demo:
        size = layout.text * 0.8
        demo = sheet.demo(right_pt=right, top_pt=top, size_pt=size) + layout.gap
        demo_bottom += LINE_HEIGHT * size
    shown = _lines(sheet, label, layout, code_space_pt=right - left - demo)
    scale = min(1.0, (bottom - top) / (LINE_HEIGHT * sum(size for _, _, size in shown)))
    for words, face, wanted in shown:
        size = wanted * scale
        top = sheet.line(
            words,
            at=(left, top),
            space_pt=right - left - (demo if top < demo_bottom else 0),
            size_pt=size,
            size_min_pt=min(layout.text_min, size),
            face=face,
        )


def _lines(sheet: Sheet, label: LotLabel, layout: Layout, *, code_space_pt: float) -> list[Line]:
    text = layout.text
    supplier_lot = label.supplier_lot if layout.is_full else ""
    code_lines = [(label.code, BOLD, layout.code)]
    if width_pt(label.code, BOLD, layout.text_min) > code_space_pt:
        pieces = wrapped(label.code, BOLD, space_pt=code_space_pt, size_pt=layout.text_min)
        code_lines = [(piece, BOLD, layout.text_min) for piece in pieces]
    lines = [
        (sheet.job.shop_name if layout.is_full else "", PLAIN, text * 0.8),
        *code_lines,
        (f"{label.item} {label.item_name}", BOLD, text),
        (" ".join(label.dates), PLAIN, text),
        (f"Use by {label.use_by}" if label.use_by else "", BOLD, text),
        (f"Supplier's lot {supplier_lot}" if supplier_lot else "", PLAIN, text),
        (label.print_note, PLAIN, text * 0.8),
    ]
    return [line for line in lines if line[0]]


def _opened(sheet: Sheet, label: LotLabel, layout: Layout, *, bottom: float) -> float:
    """Draw when it was opened and until when it then keeps, or room to write both in by hand."""
    if not layout.opened or not (label.opened_life or label.opened):
        return bottom
    life = f" ({label.opened_life} open)" if label.opened_life else ""
    words = f"Opened {label.opened or BLANK}   Discard by {label.discard_by or BLANK}{life}"
    top = bottom - layout.opened
    sheet.line(
        words,
        at=(sheet.margin_pt, top + layout.opened - LINE_HEIGHT * layout.hazard),
        space_pt=sheet.inner_width_pt,
        size_pt=layout.hazard,
        size_min_pt=layout.text_min,
        face=BOLD,
    )
    return top - layout.gap


def _hazard(sheet: Sheet, label: LotLabel, layout: Layout) -> float:
    """Draw the hazard text at the bottom; returns how far down the rest may go.

    The whole text at the largest size that fits, with the names of the pictograms if there is room
    for them; else a notice where to read it.
    """
    if not (label.hazard_text or label.pictograms):
        return sheet.bottom_pt
    pictures = " ".join(label.pictograms)
    named = ", ".join(f"{code} {PICTOGRAMS[code]}" for code in label.pictograms)
    wholes = [
        " ".join(filter(None, ["HAZARD", each, label.hazard_text]))
        for each in (f"{named}." if named else "", pictures)
    ]
    notice = f"{TEXT_DOES_NOT_FIT} {pictures}"
    opened = layout.opened + layout.gap if label.opened_life or label.opened else 0
    room = sheet.bottom_pt - sheet.margin_pt - layout.facts - layout.gap - opened
    for text in (*wholes, notice, TEXT_DOES_NOT_FIT):
        size = layout.hazard
        while size >= layout.hazard_min:
            lines = [
                *wrapped(text, BOLD, space_pt=sheet.inner_width_pt, size_pt=size),
                *wrapped(SAFETY_ADVICE, BOLD, space_pt=sheet.inner_width_pt, size_pt=size),
            ]
            height = len(lines) * LINE_HEIGHT * size
            if height <= room:
                top = sheet.bottom_pt - height
                sheet.lines(lines, at=(sheet.margin_pt, top), size_pt=size, face=BOLD)
                return top - layout.gap
            size -= 0.5
    raise AssertionError("the notice fits every stock")
