"""Shelf labels: a place, or an item where it is kept, to be read from the aisle and scanned."""

from __future__ import annotations

from typing import Final

from batches.labels.pdf.blocks import GAP_PT, block, head
from batches.labels.pdf.sheet import Sheet
from batches.labels.pdf.text import BOLD, LINE_HEIGHT, PLAIN
from batches.labels.rules.papers_stock import ShelfLabel

HEAD_RATIO: Final = 0.09
HEAD_PT: Final = (5.0, 12.0)
"""Smallest and largest size of the top line."""
SYMBOL_RATIO: Final = 0.4
"""Most of the width that the symbol takes."""
MODULE_PT: Final = 6.0
CODE_RATIO: Final = 0.34
"""Size of the code, of the height below the top line; the name fills the rest."""
CODE_MIN_PT: Final = 5.0
NAME_PT: Final = (6.0, 40.0)


def draw_shelf_label(sheet: Sheet, label: ShelfLabel) -> None:
    """Draw a shelf label on one label."""
    size = min(max(HEAD_RATIO * sheet.inner_height_pt, HEAD_PT[0]), HEAD_PT[1])
    top = head(sheet, note=label.print_note, size_pt=size)
    height = sheet.bottom_pt - top
    side = sheet.own_code(
        label.code,
        at=(sheet.margin_pt, top),
        space_pt=min(height, SYMBOL_RATIO * sheet.inner_width_pt),
        module_pt=MODULE_PT,
    )
    left = sheet.margin_pt + side + GAP_PT
    space = sheet.width_pt - sheet.margin_pt - left
    code = block(
        label.code,
        BOLD,
        space_pt=space,
        height_pt=LINE_HEIGHT * CODE_RATIO * height,
        size_pt=CODE_RATIO * height,
        size_min_pt=CODE_MIN_PT,
    )
    top = sheet.lines(code.lines, at=(left, top), size_pt=code.size_pt, face=BOLD)
    bottom = _foot(sheet, label, left=left, space=space, size_pt=1.3 * size)
    name = block(
        label.name,
        PLAIN,
        space_pt=space,
        height_pt=bottom - top,
        size_pt=min(NAME_PT[1], 0.8 * code.size_pt),
        size_min_pt=NAME_PT[0],
    )
    sheet.lines(name.lines, at=(left, top), size_pt=name.size_pt)


def _foot(sheet: Sheet, label: ShelfLabel, *, left: float, space: float, size_pt: float) -> float:
    """Where it is kept and when to reorder; returns how far down the name may go."""
    place = f"Kept at {label.place}" if label.place else ""
    text = "; ".join(filter(None, [place, label.hint]))
    if not text:
        return sheet.bottom_pt
    foot = block(
        text,
        BOLD,
        space_pt=space,
        height_pt=2 * LINE_HEIGHT * size_pt,
        size_pt=size_pt,
        size_min_pt=HEAD_PT[0],
    )
    top = sheet.bottom_pt - foot.height_pt
    sheet.lines(foot.lines, at=(left, top), size_pt=foot.size_pt, face=BOLD)
    return top
