"""Label stock and sheets as plain dimensions, where each label lies, and whole printer dots.

A printer cannot draw part of a dot: a symbol whose modules are not whole dots scans badly. So
places are found in micrometers and rounded to dots once.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

UM_PER_INCH: Final = 25_400
UM_PER_MM: Final = 1_000
POINTS_PER_INCH: Final = 72

DPIS: Final = (203, 300, 600)
"""What printers have: 203 dpi (8 dots a millimeter), 300 and 600 (common practice, no source)."""

LABELS_MAX: Final = 10_000
"""Papers in one file, copies counted: more take a thread of the server for minutes."""

SIDE_MIN_UM: Final = 10 * UM_PER_MM
SIDE_MAX_UM: Final = 450 * UM_PER_MM
"""No label is smaller, no sheet larger: a slip, not stock."""
NUDGE_MAX_UM: Final = 25 * UM_PER_MM
A_PAGE_MAX: Final = 500


MARGIN_UM: Final = 1_588
"""A sixteenth of an inch."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """One kind of labels or sheets, upright as it is read. All lengths are micrometers.

    Attributes:
        name: As people say it.
        page_width_um: Of the sheet; of a roll, of one label.
        page_height_um: Likewise.
        label_width_um: Of one label.
        label_height_um: Likewise.
        columns: Labels side by side on a page, >= 1.
        rows: Labels one below the other, >= 1.
        left_um: From the page's left edge to the first label.
        top_um: From its top edge.
        pitch_x_um: From one label's left edge to the next one's.
        pitch_y_um: From one label's top edge to the next one's.
        margin_um: Kept clear in each label: a printer is never quite in line with its stock.
    """

    name: str
    page_width_um: int
    page_height_um: int
    label_width_um: int
    label_height_um: int
    columns: int = 1
    rows: int = 1
    left_um: int = 0
    top_um: int = 0
    pitch_x_um: int = 0
    pitch_y_um: int = 0
    margin_um: int = MARGIN_UM

    @property
    def a_page(self) -> int:
        """Labels on a page."""
        return self.columns * self.rows

    def place_um(self, number: int) -> tuple[int, int]:
        """Left and top of a label on its page, row by row from 0."""
        row, column = divmod(number % self.a_page, self.columns)
        return self.left_um + column * self.pitch_x_um, self.top_um + row * self.pitch_y_um


def fault_of(stock: Stock) -> str:
    """What is wrong with the dimensions first, or nothing."""
    page = (stock.page_width_um, stock.page_height_um)
    label = (stock.label_width_um, stock.label_height_um)
    right, bottom = stock.place_um(stock.a_page - 1) if stock.a_page > 0 else (0, 0)
    faults = (
        (
            not all(SIDE_MIN_UM <= side <= SIDE_MAX_UM for side in (*page, *label)),
            "Labels and pages are 10 to 450 mm wide and high.",
        ),
        (
            min(stock.columns, stock.rows) < 1 or stock.a_page > A_PAGE_MAX,
            f"A page has at least one column and one row, and at most {A_PAGE_MAX} labels.",
        ),
        (
            min(stock.left_um, stock.top_um, stock.margin_um) < 0,
            "Left, top and margin are at least 0.",
        ),
        (
            stock.columns > 1 and stock.pitch_x_um < label[0],
            "Labels side by side overlap: the pitch is at least the width of a label.",
        ),
        (
            stock.rows > 1 and stock.pitch_y_um < label[1],
            "Labels one below the other overlap: the pitch is at least the height of a label.",
        ),
        (right + label[0] > page[0], "The last column ends right of the page."),
        (bottom + label[1] > page[1], "The last row ends below the page."),
        (2 * stock.margin_um >= min(label), "The margins leave nothing of the label."),
    )
    return next((words for is_wrong, words in faults if is_wrong), "")


TEST_STOCK: Final = "4x6"
"""What a printer is tested on when nobody names a stock."""


def number_fault(codes: int, copies: int) -> str:
    """What is wrong with so many copies of so many papers, and how to split them; or nothing."""
    if min(codes, copies) < 1:
        return "Give at least one code, and at least one copy of each."
    labels = codes * copies
    if labels <= LABELS_MAX:
        return ""
    a_file = LABELS_MAX // copies
    most = f"{a_file:,} code{'s' * (a_file > 1)}" if a_file else f"{LABELS_MAX:,} copies"
    return (
        f"{codes:,} codes, {copies:,} of each, are {labels:,} labels; one file takes "
        f"{LABELS_MAX:,}. Split them: print at most {most} at a time."
    )


def dots(length_um: int, dpi: int) -> int:
    """The nearest whole dots: 4 inches are 812 at 203 dpi."""
    return (2 * length_um * dpi + UM_PER_INCH) // (2 * UM_PER_INCH)


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintJob:
    """On what, by which printer, and whose papers.

    Attributes:
        stock: The stock.
        dpi: Of the printer, one of `DPIS`.
        start: The first label used on the first page, row by row from 1.
        nudge_x_um: To move everything right, or left where below 0.
        nudge_y_um: To move everything down, or up where below 0.
        has_cut_marks: Whether the corners of each label are drawn.
        shop_name: Whose papers.
        is_demo: A made-up shop says so on all it prints.
        address: Of the shop, `https://shop.example`; empty: papers carry codes alone.
    """

    stock: Stock
    dpi: int
    start: int = 1
    nudge_x_um: int = 0
    nudge_y_um: int = 0
    has_cut_marks: bool = False
    shop_name: str
    is_demo: bool
    address: str = ""


Sides = tuple[int, int]
"""Width and height, or left and top, in micrometers."""

_LETTER: Final = (215_900, 279_400)
_A4: Final = (210_000, 297_000)  # ISO 216


def _sheet(
    name: str,
    page: Sides,
    label: Sides,
    grid: Sides,
    *,
    at: Sides,
    pitch: Sides,
    margin_um: int = MARGIN_UM,
) -> Stock:
    return Stock(
        name=name,
        page_width_um=page[0],
        page_height_um=page[1],
        label_width_um=label[0],
        label_height_um=label[1],
        columns=grid[0],
        rows=grid[1],
        left_um=at[0],
        top_um=at[1],
        pitch_x_um=pitch[0],
        pitch_y_um=pitch[1],
        margin_um=margin_um,
    )


def _whole(name: str, page: Sides, *, margin_um: int = MARGIN_UM) -> Stock:
    """One label a page."""
    return _sheet(name, page, page, (1, 1), at=(0, 0), pitch=(0, 0), margin_um=margin_um)


def _roll(name: str, width_in: int, height_in: int) -> Stock:
    """Thermal rolls are known by their size (common practice, no source)."""
    return _whole(name, (width_in * UM_PER_INCH, height_in * UM_PER_INCH))


STANDING: Final = MappingProxyType(
    {
        stock.name: stock
        for stock in (
            _roll("4x6", 4, 6),
            _roll("4x2", 4, 2),
            _roll("3x1", 3, 1),
            _roll("2x1", 2, 1),
            _whole("letter", _LETTER, margin_um=UM_PER_INCH // 2),
            _whole("a4", _A4, margin_um=UM_PER_INCH // 2),
            # Letter sheets: dimensions from memory; they add up to the sheet. Measure the real one.
            _sheet(
                "letter-30",
                _LETTER,
                (66_675, 25_400),
                (3, 10),
                at=(4_763, 12_700),
                pitch=(69_850, 25_400),
            ),
            _sheet(
                "letter-10",
                _LETTER,
                (101_600, 50_800),
                (2, 5),
                at=(3_969, 12_700),
                pitch=(106_363, 50_800),
            ),
            _sheet(
                "letter-6",
                _LETTER,
                (101_600, 84_666),
                (2, 3),
                at=(3_969, 12_700),
                pitch=(106_363, 84_667),
            ),
            # A4 sheets of common sizes (common practice, no source).
            _sheet(
                "a4-24",
                _A4,
                (70_000, 36_000),
                (3, 8),
                at=(0, 4_500),
                pitch=(70_000, 36_000),
                margin_um=4_500,
            ),
            _sheet(
                "a4-8",
                _A4,
                (105_000, 74_000),
                (2, 4),
                at=(0, 500),
                pitch=(105_000, 74_000),
                margin_um=4_500,
            ),
        )
    }
)
"""What every shop may have."""
