"""The label of a box: whose, what, how many, which lots, and its code to scan."""

from __future__ import annotations

from functools import partial
from typing import Final, NamedTuple

from batches.labels.pdf.blocks import head
from batches.labels.pdf.sheet import Sheet
from batches.labels.pdf.text import ASCENT, BOLD, LINE_HEIGHT, PLAIN, wrapped
from batches.labels.rules.papers import BoxItem, BoxLabel, pieces_text
from shopfloor.codes.errors import SymbolSpaceError
from shopfloor.codes.gs1.links import digital_link
from shopfloor.codes.symbols import SymbolKind

FOOT_PT: Final = 152
"""Height at the bottom for code and symbols."""
SYMBOL_PT: Final = 84
BARS_PT: Final = 46
GAP_PT: Final = 5
LOW_PT: Final = 230
"""A label lower than this has the symbol beside the items."""
LOW_SYMBOL_RATIO: Final = 0.3
HEAD_PT: Final = 13.0
LOW_HEAD_PT: Final = 7.0
LOW_CODE_PT: Final = 13.0
DETAIL_MIN_PT: Final = 7.0
SIZE_MIN_PT: Final = 6.0


class Type(NamedTuple):
    """Sizes of the items: few are read across a room, many at arm's length.

    Attributes:
        title: Of model and colorway.
        pieces: Of the count; none: it stands beside the title.
        detail: Of lots and dates.
        lot_lines: Most lines of lots an item.
    """

    title: float
    pieces: float | None
    detail: float
    lot_lines: int


TYPES: Final = (Type(30, 34, 14, 4), Type(18, 18, 11, 2), Type(12, 11, 8, 2), Type(9, None, 7, 1))
NOTICE_PT: Final = LINE_HEIGHT * DETAIL_MIN_PT


def draw_box_label(sheet: Sheet, label: BoxLabel) -> None:
    """Draw a box label: code and symbols below the items, or beside them where it is low."""
    if sheet.height_pt < LOW_PT:
        _low(sheet, label)
        return
    top = _head(sheet, label)
    bottom = sheet.bottom_pt - FOOT_PT
    _items(sheet, label, _area(sheet, top, bottom))
    _foot(sheet, label, bottom)


def _low(sheet: Sheet, label: BoxLabel) -> None:
    """The symbol at the left, all else beside it."""
    left = top = sheet.margin_pt
    space = min(sheet.inner_height_pt, sheet.inner_width_pt * LOW_SYMBOL_RATIO)
    side = sheet.own_code(label.code, at=(left, top), space_pt=space, module_pt=5)
    beside = left + side + GAP_PT
    width = sheet.width_pt - sheet.margin_pt - beside
    top = _low_head(sheet, label, beside, width)
    _items(sheet, label, Area(beside, top, width, sheet.bottom_pt))


def _low_head(sheet: Sheet, label: BoxLabel, left: float, width: float) -> float:
    return sheet.line(
        f"{label.code}  {pieces_text(label.pieces)}",
        at=(left, head(sheet, note=label.print_note, size_pt=LOW_HEAD_PT, left=left)),
        space_pt=width,
        size_pt=LOW_CODE_PT,
        size_min_pt=5,
        face=BOLD,
    )


class Area(NamedTuple):
    """Where the items stand."""

    left: float
    top: float
    width: float
    bottom: float


def _area(sheet: Sheet, top: float, bottom: float) -> Area:
    return Area(sheet.margin_pt, top, sheet.inner_width_pt, bottom)


def _head(sheet: Sheet, label: BoxLabel) -> float:
    top = head(sheet, note=label.print_note, size_pt=HEAD_PT)
    sheet.rule(top_pt=top + 2, thick_pt=2)
    return top + 4 + GAP_PT


def _items(sheet: Sheet, label: BoxLabel, area: Area) -> None:
    """All items as large as they fit, else as many as do, and how many are left out."""
    top, bottom = area.top, area.bottom
    look = next((look for look in TYPES if top + _heights(label, look) <= bottom), TYPES[-1])
    for place, item in enumerate(label.items):
        rest = len(label.items) - place
        after = 0 if rest == 1 else GAP_PT + NOTICE_PT
        if top + _height(item, look) + after > bottom:
            sheet.line(
                f"and {rest} more: scan the code for all that is in the box",
                at=(area.left, top),
                space_pt=area.width,
                size_pt=DETAIL_MIN_PT,
                size_min_pt=SIZE_MIN_PT,
                face=BOLD,
            )
            return
        top = _item(sheet, item, look, area._replace(top=top)) + GAP_PT


def _heights(label: BoxLabel, look: Type) -> float:
    return sum(_height(item, look) + GAP_PT for item in label.items) - GAP_PT


def _height(item: BoxItem, look: Type) -> float:
    """The most that an item takes."""
    titles = 1 if look.pieces is None or not item.subtitle else 2
    details = look.lot_lines + (1 if item.dates and look.pieces is not None else 0)
    return LINE_HEIGHT * (titles * look.title + (look.pieces or 0) + details * look.detail)


def _item(sheet: Sheet, item: BoxItem, look: Type, area: Area) -> float:
    left, top, space, _ = area
    title_min = look.title / 2
    count = pieces_text(item.pieces)
    if look.pieces is None:
        for text, start, width in ((item.title, 0.0, 0.38), (item.subtitle, 0.4, 0.28)):
            sheet.line(
                text,
                at=(left + start * space, top),
                space_pt=width * space,
                size_pt=look.title,
                size_min_pt=SIZE_MIN_PT,
                face=BOLD,
            )
        _count(sheet, count, area, look.title)
        top += LINE_HEIGHT * look.title
        after = f"; {item.dates}" if item.dates else ""
        return _lots(sheet, item, look, area._replace(top=top), after)
    for text in filter(None, (item.title, item.subtitle)):
        top = sheet.line(
            text,
            at=(left, top),
            space_pt=space,
            size_pt=look.title,
            size_min_pt=title_min,
            face=BOLD,
        )
    sheet.line(
        item.item,
        at=(left + space / 2, top + ASCENT * (look.pieces - look.detail)),
        space_pt=space / 2,
        size_pt=look.detail,
        size_min_pt=SIZE_MIN_PT,
        is_right=True,
    )
    top = sheet.line(
        count,
        at=(left, top),
        space_pt=space / 2 - GAP_PT,
        size_pt=look.pieces,
        size_min_pt=look.detail / 2,
        face=BOLD,
    )
    top = _lots(sheet, item, look, area._replace(top=top), "")
    if not item.dates:
        return top
    return sheet.line(
        item.dates,
        at=(left, top),
        space_pt=space,
        size_pt=look.detail,
        size_min_pt=SIZE_MIN_PT,
    )


def _count(sheet: Sheet, count: str, area: Area, size: float) -> None:
    """Draw the count at the right."""
    space = area.width * 0.3
    sheet.line(
        count,
        at=(area.left + area.width - space, area.top),
        space_pt=space,
        size_pt=size,
        size_min_pt=5,
        face=BOLD,
        is_right=True,
    )


def _lots(sheet: Sheet, item: BoxItem, look: Type, area: Area, after: str) -> float:
    """As many lots as the lines hold; a lot is never cut, and it says how many are left out."""
    for left_out in range(len(item.lots) + 1):
        named = list(item.lots[: len(item.lots) - left_out])
        words = f"Lot{'' if len(item.lots) == 1 else 's'} {', '.join(named)}"
        if left_out:
            words = f"{words} and {left_out} more" if named else f"{left_out} lots"
        lines = wrapped(words + after, PLAIN, space_pt=area.width, size_pt=look.detail)
        if len(lines) <= look.lot_lines:
            break
    return sheet.lines(lines[: look.lot_lines], at=(area.left, area.top), size_pt=look.detail)


def _foot(sheet: Sheet, label: BoxLabel, top: float) -> None:
    left = sheet.margin_pt
    sheet.rule(top_pt=top, thick_pt=2)
    top += 2 + GAP_PT
    link, right = _link(sheet, label, top)
    # Of two QRs side by side one would be read for the other.
    draw = sheet.own_code if not link else partial(sheet.square, kind=SymbolKind.DATAMATRIX)
    side = draw(label.code, at=(left, top), space_pt=SYMBOL_PT, module_pt=5)
    beside = left + side + GAP_PT
    space = right - beside
    below = sheet.line(
        label.code, at=(beside, top), space_pt=space, size_pt=38, size_min_pt=8, face=BOLD
    )
    below = sheet.line(
        f"{pieces_text(label.pieces)} in all",
        at=(beside, below + GAP_PT),
        space_pt=space,
        size_pt=16,
        size_min_pt=8,
    )
    for words in link:
        below = sheet.line(
            words, at=(beside, below), space_pt=space, size_pt=DETAIL_MIN_PT, size_min_pt=5
        )
    sheet.code128(
        label.code,
        at=(left, sheet.bottom_pt - BARS_PT),
        space_pt=sheet.inner_width_pt,
        height_pt=BARS_PT,
        module_pt=1.5,
    )


def _link(sheet: Sheet, label: BoxLabel, top: float) -> tuple[list[str], float]:
    """Draw what is in the box as a link, at the right; what it says, and where the rest ends."""
    right = sheet.width_pt - sheet.margin_pt
    if not label.elements or not sheet.job.address:
        return [], right
    link = digital_link(label.elements, stem=sheet.job.address)
    left = right - SYMBOL_PT
    try:
        sheet.square(link, SymbolKind.QR, at=(left, top), space_pt=SYMBOL_PT, module_pt=5)
    except SymbolSpaceError:  # a long address and a long lot
        return [], right
    return [f"({each}" for each in label.elements.human.split("(") if each], left - GAP_PT
