"""Hold tags: HOLD across the tag, which lot, why, and that nobody takes any of it."""

from __future__ import annotations

from typing import Final

from batches.labels.pdf.blocks import GAP_PT, block, head
from batches.labels.pdf.sheet import Sheet
from batches.labels.pdf.text import BOLD, LINE_HEIGHT, PLAIN, width_pt
from batches.labels.rules.papers_stock import HOLD_ADVICE, HoldReason, HoldTag

WORD: Final = "HOLD"
BAND_RATIO: Final = 0.22
"""Height of the band with the word, of the tag's."""
BAND_MAX_PT: Final = 90.0
SYMBOL_RATIO: Final = 0.3
"""Most of the width that the symbol takes."""
MODULE_PT: Final = 6.0
TEXT_RATIO: Final = 0.06
TEXT_PT: Final = (6.0, 13.0)
"""Smallest and largest size of type but for the reasons and the code."""
REASON_MAX_PT: Final = 18.0
REASON_MIN_PT: Final = 5.0


def draw_hold_tag(sheet: Sheet, tag: HoldTag) -> None:
    """Draw a hold tag on one label: the reasons below the symbol if it is upright, else beside."""
    size = min(max(TEXT_RATIO * sheet.inner_height_pt, TEXT_PT[0]), TEXT_PT[1])
    top = _band(sheet, head(sheet, note=tag.print_note, size_pt=size) + GAP_PT)
    bottom = _advice(sheet, size)
    side = sheet.own_code(
        tag.code,
        at=(sheet.margin_pt, top),
        space_pt=min(bottom - top, SYMBOL_RATIO * sheet.inner_width_pt),
        module_pt=MODULE_PT,
    )
    left = sheet.margin_pt + side + GAP_PT
    below = _what(sheet, tag, left=left, top=top, size_pt=size)
    if sheet.inner_height_pt > sheet.inner_width_pt:
        left, below = sheet.margin_pt, max(below, top + side)
    _reasons(sheet, tag, left=left, top=below + GAP_PT / 2, bottom=bottom)


def _band(sheet: Sheet, top: float) -> float:
    """HOLD between two black blocks, from margin to margin; returns where the rest begins."""
    height = min(BAND_RATIO * sheet.inner_height_pt, BAND_MAX_PT)
    size = height / LINE_HEIGHT
    width = width_pt(WORD, BOLD, size)
    side = (sheet.inner_width_pt - width) / 2 - GAP_PT
    for left in (sheet.margin_pt, sheet.width_pt - sheet.margin_pt - side):
        sheet.black(left, top, side, height)
    sheet.lines([WORD], at=(sheet.margin_pt + side + GAP_PT, top), size_pt=size, face=BOLD)
    return top + height + GAP_PT


def _advice(sheet: Sheet, size: float) -> float:
    """What to do, at the bottom; returns how far down the rest may go."""
    advice = block(
        HOLD_ADVICE,
        BOLD,
        space_pt=sheet.inner_width_pt,
        height_pt=2 * LINE_HEIGHT * size,
        size_pt=size,
        size_min_pt=TEXT_PT[0],
    )
    top = sheet.bottom_pt - advice.height_pt
    sheet.lines(advice.lines, at=(sheet.margin_pt, top), size_pt=advice.size_pt, face=BOLD)
    return top - GAP_PT


def _what(sheet: Sheet, tag: HoldTag, *, left: float, top: float, size_pt: float) -> float:
    """Lot, item, amount and place beside the symbol; returns where the next line begins."""
    space = sheet.width_pt - sheet.margin_pt - left
    code = block(
        tag.code,
        BOLD,
        space_pt=space,
        height_pt=2 * LINE_HEIGHT * size_pt,
        size_pt=2 * size_pt,
        size_min_pt=REASON_MIN_PT,
    )
    top = sheet.lines(code.lines, at=(left, top), size_pt=code.size_pt, face=BOLD)
    for text in (f"{tag.item} {tag.item_name}", f"{tag.amount} at {tag.place}"):
        top = sheet.line(
            text, at=(left, top), space_pt=space, size_pt=size_pt, size_min_pt=REASON_MIN_PT
        )
    return top


def _reasons(sheet: Sheet, tag: HoldTag, *, left: float, top: float, bottom: float) -> None:
    """Every hold, the oldest first, as large as they fit; at the smallest size cut."""
    shown = block(
        " ".join(map(_reason, tag.reasons)),
        PLAIN,
        space_pt=sheet.width_pt - sheet.margin_pt - left,
        height_pt=bottom - top,
        size_pt=REASON_MAX_PT,
        size_min_pt=REASON_MIN_PT,
    )
    sheet.lines(shown.lines, at=(left, top), size_pt=shown.size_pt)


def _reason(reason: HoldReason) -> str:
    source = f", because of lot {reason.source}" if reason.source else ""
    return f"Held {reason.since} by {reason.by} ({reason.hold}){source}. Why: {reason.why}"
