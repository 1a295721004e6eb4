"""The sticker of a lot: what it is, since when, until when, and what its safety data sheet says."""

from __future__ import annotations

from typing import Final, NamedTuple

from batches.labels.pdf.sheet import Sheet
from batches.labels.pdf.text import BOLD, LINE_HEIGHT, PLAIN, width_pt, wrapped
from batches.labels.rules.papers import SAFETY_ADVICE, LotLabel

TEXT_DOES_NOT_FIT: Final = "HAZARD. The text does not fit here: read the safety data sheet."
"""Instead of a part of the text, which would pass for all of it."""


Line = tuple[str, str, float]
"""Text, face and wanted size."""


class Layout(NamedTuple):
    """Sizes on one stock, in points.

    Attributes:
        facts: Least height for what is not hazard text.
        is_full: Whether the shop and the supplier's lot are named too.
    """

    code: float
    text: float
    text_min: float
    hazard: float
    hazard_min: float
    facts: float
    gap: float
    is_full: bool


SMALL: Final = Layout(
    code=12, text=7.5, text_min=5, hazard=6, hazard_min=5, facts=36, gap=2, is_full=False
)
FULL: Final = Layout(
    code=24, text=12, text_min=6, hazard=9, hazard_min=6, facts=66, gap=5, is_full=True
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
    bottom = _hazard(sheet, label, layout)
    space = min(bottom - top, sheet.inner_width_pt * SYMBOL_RATIO)
    side = sheet.datamatrix(label.code, at=(left, top), space_pt=space, module_pt=MODULE_PT)
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


def _hazard(sheet: Sheet, label: LotLabel, layout: Layout) -> float:
    """Draw the hazard text at the bottom; returns how far down the rest may go.

    The whole text at the largest size that fits, else a notice where to read it.
    """
    if not (label.hazard_text or label.pictograms):
        return sheet.bottom_pt
    pictures = " ".join(label.pictograms)
    whole = " ".join(filter(None, ["HAZARD", pictures, label.hazard_text]))
    notice = f"{TEXT_DOES_NOT_FIT} {pictures}"
    room = sheet.bottom_pt - sheet.margin_pt - layout.facts - layout.gap
    for text in (whole, notice, TEXT_DOES_NOT_FIT):
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
