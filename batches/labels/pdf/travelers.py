"""The sheet that goes with a batch: what to make, of what, and room to write by hand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from batches.labels.pdf.blocks import head
from batches.labels.pdf.sheet import Sheet
from batches.labels.pdf.text import BOLD, LINE_HEIGHT, PLAIN, wrapped
from batches.labels.rules.papers import SAFETY_ADVICE, Traveler, TravelerNeed

SYMBOL_PT: Final = 96
SIZE_PT: Final = 11.0
SIZE_MIN_PT: Final = 7.0
GAP_PT: Final = 8
HAND_LINES: Final = (
    "Started",
    "Good",
    "Scrapped, and why",
    "Lots taken",
    "Checks",
    "Equipment",
    "By",
    "Ended",
)
HAND_PT: Final = 30
COLUMNS: Final = ((0.0, 0.43), (0.45, 0.15), (0.62, 0.38))
"""Left and width of each column, of the width between the margins."""


def draw_traveler(sheet: Sheet, traveler: Traveler) -> None:
    """Draw a traveler; a long bill goes on, on further pages. But for the shop nothing is cut."""
    top = _head(sheet, traveler)
    top = _needs(sheet, traveler, top)
    top = _hazards(sheet, traveler, top)
    _by_hand(sheet, traveler, top)


def _top_line(sheet: Sheet, traveler: Traveler) -> float:
    top = head(sheet, note=traveler.print_note, size_pt=12)
    sheet.rule(top_pt=top + 2, thick_pt=2)
    return top + 4 + GAP_PT


def _next_page(sheet: Sheet, traveler: Traveler) -> float:
    sheet.next_page()
    top = _top_line(sheet, traveler)
    return _code(sheet, f"Batch {traveler.code}, continued", sheet.margin_pt, top, 16) + GAP_PT


def _code(sheet: Sheet, text: str, left: float, top: float, size: float) -> float:
    """A line with the batch's code, which is not broken."""
    space = sheet.width_pt - sheet.margin_pt - left
    return sheet.line(
        text, at=(left, top), space_pt=space, size_pt=size, size_min_pt=SIZE_MIN_PT, face=BOLD
    )


def _head(sheet: Sheet, traveler: Traveler) -> float:
    top = _top_line(sheet, traveler)
    left = sheet.margin_pt
    side = sheet.own_code(traveler.code, at=(left, top), space_pt=SYMBOL_PT, module_pt=5)
    beside = left + SYMBOL_PT + GAP_PT
    below = _code(sheet, f"Batch {traveler.code}", beside, top, 26)
    texts = [
        (traveler.item_name, BOLD, 16.0),
        (traveler.item, PLAIN, SIZE_PT),
        (f"Stage: {traveler.stage}", PLAIN, SIZE_PT),
        (_listed("Comes from ", traveler.comes_from), PLAIN, SIZE_PT),
        (_listed("Goes to ", traveler.goes_to), PLAIN, SIZE_PT),
        (f"Planned: {traveler.planned}", BOLD, SIZE_PT),
        (f"Made so far: {traveler.made}" if traveler.made else "", PLAIN, SIZE_PT),
        (f"Still to make: {traveler.left}" if traveler.left else "", BOLD, SIZE_PT),
        (_listed("Equipment so far: ", traveler.equipment), PLAIN, SIZE_PT),
        (f"To run on {traveler.planned_on}" if traveler.planned_on else "", PLAIN, SIZE_PT),
        (f"Bill of materials: {traveler.bill}" if traveler.bill else "", PLAIN, SIZE_PT),
        (f"Note: {traveler.note}" if traveler.note else "", PLAIN, SIZE_PT),
    ]
    space = sheet.width_pt - sheet.margin_pt - beside
    for text, face, size in texts:
        lines = wrapped(text, face, space_pt=space, size_pt=size)
        below = sheet.lines(lines, at=(beside, below), size_pt=size, face=face)
    return max(below, top + side) + GAP_PT


def _listed(words: str, names: Sequence[str]) -> str:
    """Words and names; nothing for no names."""
    return words + "; ".join(names) if names else ""


def _needs(sheet: Sheet, traveler: Traveler, top: float) -> float:
    if not traveler.needs:
        return top
    top = _needs_head(sheet, top)
    for need in traveler.needs:
        cells = _cells(sheet, need)
        if top + LINE_HEIGHT * SIZE_PT * max(map(len, cells)) > sheet.bottom_pt:
            top = _needs_head(sheet, _next_page(sheet, traveler))
        top = _row(sheet, cells, top, PLAIN)
    return top + GAP_PT


def _needs_head(sheet: Sheet, top: float) -> float:
    top = _row(sheet, [["Takes"], ["Amount"], ["Lots to take first"]], top, BOLD)
    sheet.rule(top_pt=top)
    return top + 3


def _cells(sheet: Sheet, need: TravelerNeed) -> list[list[str]]:
    texts = (f"{need.item} {need.item_name}", need.amount, ", ".join(need.lots))
    return [
        wrapped(text, PLAIN, space_pt=width * sheet.inner_width_pt, size_pt=SIZE_PT)
        for text, (_, width) in zip(texts, COLUMNS, strict=True)
    ]


def _row(sheet: Sheet, cells: list[list[str]], top: float, face: str) -> float:
    below = [
        sheet.lines(
            lines,
            at=(sheet.margin_pt + left * sheet.inner_width_pt, top),
            size_pt=SIZE_PT,
            face=face,
        )
        for lines, (left, _) in zip(cells, COLUMNS, strict=True)
    ]
    return max(below) + 2


def _hazards(sheet: Sheet, traveler: Traveler, top: float) -> float:
    """Which items carry hazard text, and where to read it: their stickers have it whole."""
    if not traveler.hazards:
        return top
    text = f"HAZARD: {', '.join(traveler.hazards)}. {SAFETY_ADVICE}"
    lines = wrapped(text, BOLD, space_pt=sheet.inner_width_pt, size_pt=SIZE_PT)
    if top + LINE_HEIGHT * SIZE_PT * len(lines) > sheet.bottom_pt:
        top = _next_page(sheet, traveler)
    return sheet.lines(lines, at=(sheet.margin_pt, top), size_pt=SIZE_PT, face=BOLD) + GAP_PT


def _by_hand(sheet: Sheet, traveler: Traveler, top: float) -> None:
    if top + HAND_PT * len(HAND_LINES) > sheet.bottom_pt:
        top = _next_page(sheet, traveler)
    for word in HAND_LINES:
        sheet.lines(
            [word],
            at=(sheet.margin_pt, top + HAND_PT - LINE_HEIGHT * SIZE_PT - 2),
            size_pt=SIZE_PT,
        )
        top += HAND_PT
        sheet.rule(top_pt=top - 1, thick_pt=0.5)
