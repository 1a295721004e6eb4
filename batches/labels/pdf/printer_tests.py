"""A label that measures the printer: a frame, rulers, bars of whole dots, symbols at their least.

What does not fit a label is left out; nothing is made smaller than it scans or can be measured.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final, NamedTuple

from batches.labels.pdf.blocks import GAP_PT, block
from batches.labels.pdf.sheet import Rectangle, Sheet
from batches.labels.pdf.text import BOLD, LINE_HEIGHT, PLAIN, width_pt
from batches.labels.rules.papers import PrinterTest
from batches.labels.rules.stock import POINTS_PER_INCH, UM_PER_INCH, UM_PER_MM, dots
from shopfloor.codes.errors import SymbolSpaceError
from shopfloor.codes.fitting import PlannedSymbol, Space, Use, symbol_plan
from shopfloor.codes.symbols import SymbolKind

SYMBOL_TEXT: Final = "TEST"
FRAME_DOTS: Final = 2
SIZE_PT: Final = 7.0
SIZE_MIN_PT: Final = 5.0
LINE_PT: Final = LINE_HEIGHT * SIZE_MIN_PT
WORDS_RATIO: Final = 0.4
"""Most of the height beside the rulers that words take."""
TICKS_PT: Final = 6.0
"""Length of the longest ticks of a ruler."""
NUMBERS_PT: Final = (LINE_PT, 11.0)
"""Room for the numbers of a ruler across, which is a line, and down, which is three digits."""
END_PT: Final = 6.0
"""Room before and behind a ruler for half a number."""
MM_STEP: Final = 5
INCH_PARTS: Final = 8
BARS_MAX: Final = 8
BARS_PT: Final = 18.0
ARROW_PT: Final = 8.0


class _Area(NamedTuple):
    """What is free, in points from the label's upper left corner."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.bottom - self.top


class _Ruler(NamedTuple):
    """How long a ruler is.

    Attributes:
        mm: Millimeters, in steps of five.
        eighths: Eighths of an inch, whole quarters.
    """

    mm: int
    eighths: int

    @property
    def words(self) -> str:
        """What it must measure."""
        return f"{self.mm} mm and {self.eighths / INCH_PARTS:g} in"


class _Part(NamedTuple):
    """Something of a size, to be drawn where there is room."""

    width: float
    height: float
    draw: Callable[[float, float], None]


def draw_printer_test(sheet: Sheet, label: PrinterTest) -> None:
    """Draw the test on one label."""
    area = _framed(sheet)
    strips = [2 * (TICKS_PT + numbers) for numbers in NUMBERS_PT]
    across = _ruler(area.width - strips[1]) if area.height > strips[0] else None
    down = _ruler(area.height) if across else None
    if across:
        _draw_ruler(sheet, across, at=(area.left + strips[1], area.top), is_down=False)
        area = area._replace(top=area.top + strips[0])
    if down:
        _draw_ruler(sheet, down, at=(area.left, area.top - strips[0]), is_down=True)
        area = area._replace(left=area.left + strips[1] + GAP_PT)
    area = _words(sheet, label, area, across, down)
    _draw_parts([*_symbols(sheet, area), _bars(sheet), _arrows(sheet)], area)


def _framed(sheet: Sheet) -> _Area:
    """Draw the frame at the margin; returns what is within."""
    left = sheet.dots_in(sheet.margin_pt)
    right = sheet.dots_in(sheet.width_pt) - left
    bottom = sheet.dots_in(sheet.height_pt) - left
    for frame in (
        (left, left, right - left, FRAME_DOTS),
        (left, bottom - FRAME_DOTS, right - left, FRAME_DOTS),
        (left, left, FRAME_DOTS, bottom - left),
        (right - FRAME_DOTS, left, FRAME_DOTS, bottom - left),
    ):
        sheet.fill([frame])
    inset = sheet.margin_pt + sheet.dots_pt(FRAME_DOTS) + 1
    return _Area(inset, inset, sheet.width_pt - inset, sheet.height_pt - inset)


def _ruler(space_pt: float) -> _Ruler | None:
    """The longest that fits, with room for the numbers at its ends."""
    space_um = (space_pt - 2 * END_PT) * UM_PER_INCH / POINTS_PER_INCH
    mm = int(space_um // (MM_STEP * UM_PER_MM)) * MM_STEP
    quarters = int(space_um // (UM_PER_INCH / 4))
    return _Ruler(mm, quarters * 2) if mm > 0 and quarters > 0 else None


def _draw_ruler(sheet: Sheet, ruler: _Ruler, *, at: tuple[float, float], is_down: bool) -> None:
    """Millimeters on one side of its line, inches on the other; ticks begin at whole dots."""
    numbers_pt = NUMBERS_PT[is_down]
    start, side = at if not is_down else (at[1], at[0])
    start_dots = sheet.dots_in(start + END_PT)
    middle = sheet.dots_in(side + numbers_pt + TICKS_PT)
    thick = max(1, sheet.dots_in(0.35))
    for count, part_um, whole, is_before in (
        (ruler.mm, UM_PER_MM, 10, True),
        (ruler.eighths, UM_PER_INCH // INCH_PARTS, INCH_PARTS, False),
    ):
        ticks: list[Rectangle] = []
        for tick in range(count + 1):
            is_whole, is_half = tick % whole == 0, tick % (whole // 2) == 0
            length = sheet.dots_in(TICKS_PT * (1 if is_whole else 0.7 if is_half else 0.45))
            place = start_dots + dots(tick * part_um, sheet.dpi)
            near = middle - length if is_before else middle
            ticks.append((near, place, length, thick) if is_down else (place, near, thick, length))
            if is_whole:
                number = str(tick if whole != INCH_PARTS else tick // whole)
                lower = side if is_before else side + numbers_pt + 2 * TICKS_PT
                _number(sheet, number, sheet.dots_pt(place), lower, numbers_pt, is_down=is_down)
        sheet.fill(ticks)


def _number(
    sheet: Sheet, number: str, along: float, side: float, room: float, *, is_down: bool
) -> None:
    """A number at its tick, in the middle of its room."""
    width = width_pt(number, PLAIN, SIZE_MIN_PT)
    at = (side + (room - width) / 2, along - LINE_PT / 2) if is_down else (along - width / 2, side)
    sheet.lines([number], at=at, size_pt=SIZE_MIN_PT)


def _words(
    sheet: Sheet, label: PrinterTest, area: _Area, across: _Ruler | None, down: _Ruler | None
) -> _Area:
    """What it is and what must measure how much; returns what is left below."""
    space, bottom, demo_bottom = area.width, area.top + WORDS_RATIO * area.height, area.top
    if sheet.job.is_demo:
        size = min(SIZE_MIN_PT, space / (1 + width_pt("DEMO", BOLD, 1)))
        space -= sheet.demo(right_pt=area.right, top_pt=area.top, size_pt=size) + GAP_PT
        demo_bottom += LINE_HEIGHT * size
    margin_mm = sheet.job.stock.margin_um / UM_PER_MM
    sentences = [f"{label.code}, {sheet.dpi} dpi"]
    if across and down:
        sentences.append(f"The rulers must measure {across.words} across, {down.words} down.")
    sentences.append(f"The frame is {margin_mm:.1f} mm within each edge.")
    top = area.top
    for sentence in sentences:
        shown = block(
            sentence,
            PLAIN,
            space_pt=space,
            height_pt=bottom - top,
            size_pt=SIZE_PT,
            size_min_pt=SIZE_MIN_PT,
        )
        if shown.is_whole:
            top = sheet.lines(shown.lines, at=(area.left, top), size_pt=shown.size_pt)
    return area._replace(top=max(top, demo_bottom) + GAP_PT / 2)


def _symbols(sheet: Sheet, area: _Area) -> Iterator[_Part]:
    """One of each kind that fits, its modules as narrow as they scan."""
    space = Space(sheet.dots_in(max(0, area.width)), sheet.dots_in(max(0, area.height)))
    for kind in (SymbolKind.DATAMATRIX, SymbolKind.QR, SymbolKind.CODE128):
        try:
            plan = symbol_plan(
                SYMBOL_TEXT,
                kinds=[kind],
                space=space,
                dpi=sheet.dpi,
                use=Use.SHOP,
                module_dots_max=1,
            )
        except SymbolSpaceError:
            continue
        yield _symbol(sheet, plan.symbols[0])


def _symbol(sheet: Sheet, planned: PlannedSymbol) -> _Part:
    def draw(left: float, top: float) -> None:
        sheet.symbol(planned, left_dots=sheet.dots_in(left), top_dots=sheet.dots_in(top))

    width, height = map(sheet.dots_pt, (planned.width_dots, planned.height_dots))
    return _captioned(sheet, _Part(width, height, draw), f"{planned.module_dots} dots")


def _bars(sheet: Sheet) -> _Part:
    """Bars one dot wide, two, three ..., each with as much white behind it."""
    height = sheet.dots_in(BARS_PT)

    def draw(left: float, top: float) -> None:
        place, bars = sheet.dots_in(left), []
        for width in range(1, BARS_MAX + 1):
            bars.append((place, sheet.dots_in(top), width, height))
            place += 2 * width
        sheet.fill(bars)

    width = sheet.dots_pt(BARS_MAX * (BARS_MAX + 1))
    return _captioned(sheet, _Part(width, BARS_PT, draw), f"1 to {BARS_MAX}")


def _captioned(sheet: Sheet, part: _Part, caption: str) -> _Part:
    """A part with a line under it."""

    def draw(left: float, top: float) -> None:
        part.draw(left, top)
        sheet.lines([caption], at=(left, top + part.height + 1), size_pt=SIZE_MIN_PT)

    width = max(part.width, width_pt(caption, PLAIN, SIZE_MIN_PT))
    return _Part(width, part.height + 1 + LINE_PT, draw)


def _arrows(sheet: Sheet) -> _Part:
    """Where a nudge above 0 moves everything."""
    names = ("nudge_x_mm above 0", "nudge_y_mm above 0")
    row = max(ARROW_PT, LINE_PT) + 2

    def draw(left: float, top: float) -> None:
        for number, name in enumerate(names):
            y = top + number * row
            sheet.fill(_arrow(sheet, left, y, is_down=bool(number)))
            sheet.lines([name], at=(left + ARROW_PT + 2, y + 1), size_pt=SIZE_MIN_PT)

    width = ARROW_PT + 2 + max(width_pt(name, PLAIN, SIZE_MIN_PT) for name in names)
    return _Part(width, 2 * row, draw)


def _arrow(sheet: Sheet, left: float, top: float, *, is_down: bool) -> list[Rectangle]:
    """A shaft and a head of single dots, to the right or down."""
    x, y, side = sheet.dots_in(left), sheet.dots_in(top), sheet.dots_in(ARROW_PT)
    half, shaft = side // 2, max(1, side // 6)
    rows = [(0, half - shaft // 2, side - half, shaft)]
    rows += [(side - 1 - step, half - step, 1, 2 * step + 1) for step in range(half)]
    if is_down:
        rows = [(across, along, height, width) for along, across, width, height in rows]
    return [(x + along, y + across, width, height) for along, across, width, height in rows]


def _draw_parts(parts: list[_Part], area: _Area) -> None:
    """One beside the other, in rows, as far as they fit; one that does not is left out."""
    left, top, row = area.left, area.top, 0.0
    for part in parts:
        if left > area.left and left + part.width > area.right:
            left, top, row = area.left, top + row + GAP_PT / 2, 0.0
        if left + part.width > area.right or top + part.height > area.bottom:
            continue
        part.draw(left, top)
        left += part.width + GAP_PT
        row = max(row, part.height)
