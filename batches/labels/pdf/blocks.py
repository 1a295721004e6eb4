"""Parts that several papers share: the line at the top, and text that fills a space."""

from __future__ import annotations

from typing import Final, NamedTuple

from batches.labels.pdf.sheet import Sheet
from batches.labels.pdf.text import (
    BOLD,
    ELLIPSIS,
    LINE_HEIGHT,
    PLAIN,
    SIZE_STEP_PT,
    fitted,
    width_pt,
    wrapped,
)

GAP_PT: Final = 4.0
SIZE_MIN_PT: Final = 5.0
NOTE_RATIO: Final = 0.4
"""Most of the top line that a note of printing takes."""


class Block(NamedTuple):
    """Text broken into lines at a size that fits a space.

    Attributes:
        is_whole: False: it is cut, and ends with an ellipsis if there is a line at all.
    """

    lines: list[str]
    size_pt: float
    is_whole: bool

    @property
    def height_pt(self) -> float:
        """From the top of the first line to where a next would begin."""
        return len(self.lines) * LINE_HEIGHT * self.size_pt


def block(
    text: str, face: str, *, space_pt: float, height_pt: float, size_pt: float, size_min_pt: float
) -> Block:
    """A text of several lines as large as fits; at the smallest size cut, with an ellipsis.

    Args:
        text: Any text; of no letters there is no line.
        face: `PLAIN` or `BOLD`.
        space_pt: The width there is.
        height_pt: The height there is; less than a line: there is no line.
        size_pt: Wanted size.
        size_min_pt: Smallest size.
    """
    size = size_pt
    while True:
        lines = wrapped(text, face, space_pt=space_pt, size_pt=size)
        most = max(0, int(height_pt / (LINE_HEIGHT * size) + 1e-9))
        if len(lines) <= most:
            return Block(lines, size, is_whole=True)
        if size <= size_min_pt:
            break
        size = max(size - SIZE_STEP_PT, size_min_pt)
    kept = lines[:most]
    if kept:
        kept[-1] = fitted(
            kept[-1] + ELLIPSIS, face, space_pt=space_pt, size_pt=size, size_min_pt=size
        ).text
    return Block(kept, size, is_whole=False)


def head(sheet: Sheet, *, note: str, size_pt: float, left: float | None = None) -> float:
    """Draw the shop's name, how often it was printed, and DEMO; returns where the rest begins.

    Args:
        sheet: What to draw on.
        note: Of the printing; it is never left out for the name of the shop.
        size_pt: Of the type.
        left: Where it begins; the left margin if not given.
    """
    left = sheet.margin_pt if left is None else left
    top, space = sheet.margin_pt, sheet.width_pt - sheet.margin_pt - left
    if sheet.job.is_demo:
        space -= sheet.demo(right_pt=left + space, top_pt=top, size_pt=size_pt) + GAP_PT
    if note:
        width = min(width_pt(note, PLAIN, size_pt), NOTE_RATIO * space)
        sheet.line(
            note,
            at=(left + space - width, top),
            space_pt=width,
            size_pt=size_pt,
            size_min_pt=SIZE_MIN_PT,
            is_right=True,
        )
        space -= width + GAP_PT
    return sheet.line(
        sheet.job.shop_name,
        at=(left, top),
        space_pt=space,
        size_pt=size_pt,
        size_min_pt=SIZE_MIN_PT,
        face=BOLD,
    )
