"""The sheet that goes with a batch: what to make, of what, and room to write by hand."""

from __future__ import annotations

from typing import IO, Final

from batches.labels.pdf.sheet import BOLD, LINE_HEIGHT, PLAIN, Sheet
from batches.labels.rules.papers import Traveler, TravelerNeed

SYMBOL_PT: Final = 96
SIZE_PT: Final = 11.0
SIZE_MIN_PT: Final = 7.0
GAP_PT: Final = 8
HAND_LINES: Final = ("Started", "Good", "Scrapped, and why", "Lots taken", "By", "Ended")
HAND_PT: Final = 30


def write_traveler(traveler: Traveler, file: IO[bytes]) -> None:
    """Draw a traveler; a long bill goes on, on further pages."""
    sheet = Sheet(file, stock=traveler.stock, head=traveler.head, title=f"Batch {traveler.code}")
    top = _head(sheet, traveler)
    top = _needs(sheet, traveler, top)
    _by_hand(sheet, traveler, top)
    sheet.save()


def _top_line(sheet: Sheet, traveler: Traveler) -> float:
    left, top, space = sheet.margin_pt, sheet.margin_pt, sheet.inner_width_pt
    if traveler.head.is_demo:
        space -= sheet.demo(right_pt=left + space, top_pt=top, size_pt=12) + GAP_PT
    top = sheet.line(
        traveler.head.shop_name,
        at=(left, top),
        space_pt=space,
        size_pt=12,
        size_min_pt=SIZE_MIN_PT,
        face=BOLD,
    )
    sheet.rule(top_pt=top + 2, thick_pt=2)
    return top + 4 + GAP_PT


def _head(sheet: Sheet, traveler: Traveler) -> float:
    top = _top_line(sheet, traveler)
    left = sheet.margin_pt
    side = sheet.datamatrix(traveler.code, at=(left, top), space_pt=SYMBOL_PT, module_pt=5)
    beside = left + SYMBOL_PT + GAP_PT
    space = sheet.width_pt - sheet.margin_pt - beside
    below = top
    texts = [
        (f"Batch {traveler.code}", BOLD, 26.0),
        (traveler.item_name, BOLD, 16.0),
        (traveler.item, PLAIN, SIZE_PT),
        (f"Stage: {traveler.stage}", PLAIN, SIZE_PT),
        (f"Planned: {traveler.planned}", BOLD, SIZE_PT),
        (f"To run on {traveler.planned_on}" if traveler.planned_on else "", PLAIN, SIZE_PT),
        (f"Bill of materials: {traveler.bill}" if traveler.bill else "", PLAIN, SIZE_PT),
        (f"Note: {traveler.note}" if traveler.note else "", PLAIN, SIZE_PT),
    ]
    for text, face, size in texts:
        if text:
            below = sheet.line(
                text,
                at=(beside, below),
                space_pt=space,
                size_pt=size,
                size_min_pt=SIZE_MIN_PT,
                face=face,
            )
    return max(below, top + side) + GAP_PT


def _needs(sheet: Sheet, traveler: Traveler, top: float) -> float:
    if not traveler.needs:
        return top
    top = _needs_head(sheet, top)
    for need in traveler.needs:
        if top + LINE_HEIGHT * SIZE_PT * 2 > sheet.bottom_pt:
            sheet.next_page()
            top = _needs_head(sheet, _top_line(sheet, traveler))
        top = _need(sheet, need, top)
    return top + GAP_PT


def _needs_head(sheet: Sheet, top: float) -> float:
    top = _columns(sheet, ("Takes", "Amount", "Lots to take first"), top, BOLD)
    sheet.rule(top_pt=top)
    return top + 3


def _need(sheet: Sheet, need: TravelerNeed, top: float) -> float:
    name = f"{need.item} {need.item_name}"
    return _columns(sheet, (name, need.amount, ", ".join(need.lots)), top, PLAIN)


def _columns(sheet: Sheet, texts: tuple[str, str, str], top: float, face: str) -> float:
    left, space = sheet.margin_pt, sheet.inner_width_pt
    next_top = top
    for text, share, width in zip(texts, (0, 0.45, 0.62), (0.43, 0.15, 0.38), strict=True):
        next_top = sheet.line(
            text,
            at=(left + share * space, top),
            space_pt=width * space,
            size_pt=SIZE_PT,
            size_min_pt=SIZE_MIN_PT,
            face=face,
        )
    return next_top + 2


def _by_hand(sheet: Sheet, traveler: Traveler, top: float) -> None:
    if top + HAND_PT * len(HAND_LINES) > sheet.bottom_pt:
        sheet.next_page()
        top = _top_line(sheet, traveler)
    for word in HAND_LINES:
        sheet.line(
            word,
            at=(sheet.margin_pt, top + HAND_PT - LINE_HEIGHT * SIZE_PT - 2),
            space_pt=sheet.inner_width_pt,
            size_pt=SIZE_PT,
            size_min_pt=SIZE_MIN_PT,
        )
        top += HAND_PT
        sheet.rule(top_pt=top - 1, thick_pt=0.5)
