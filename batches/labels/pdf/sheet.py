"""One label or page to draw on: text that shrinks to fit, rules, and symbols in whole dots.

Measured from the top left corner of the label; text and rules in points, symbols in dots.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from types import MappingProxyType
from typing import Final

from reportlab.pdfgen.canvas import Canvas

from batches.labels.pdf.embedding import Embedding
from batches.labels.pdf.fonts import shaped
from batches.labels.pdf.strokes import Strokes
from batches.labels.pdf.text import (
    ASCENT,
    BOLD,
    LINE_HEIGHT,
    PLAIN,
    fitted,
    is_latin,
    load_faces,
    width_pt,
)
from batches.labels.rules.stock import MARGIN_UM, POINTS_PER_INCH, PrintJob, dots
from shopfloor.codes.errors import SymbolSpaceError
from shopfloor.codes.fitting import PlannedSymbol, Space, Use, symbol_plan
from shopfloor.codes.symbols import (
    CODE128_QUIET_MODULES,
    DATAMATRIX_QUIET_MODULES,
    QR_QUIET_MODULES,
    SymbolKind,
    code128_widths,
    datamatrix_modules,
    qr_modules,
)

Rectangle = tuple[int, int, int, int]
"""Left, top, width and height in dots."""

SQUARES: Final = MappingProxyType(
    {
        SymbolKind.DATAMATRIX: (datamatrix_modules, DATAMATRIX_QUIET_MODULES),
        SymbolKind.QR: (qr_modules, QR_QUIET_MODULES),
    }
)
"""Modules of each square symbol, and how many are kept clear around it."""


class Sheet:
    """A label, or a whole page, of one stock for one printer.

    Args:
        canvas: Of the page it lies on.
        embedding: Fonts of its file, for other letters than Latin ones.
        job: On what and for whom.
        left_dots: From the page's left edge to the label's, moved by the nudge.
        top_dots: From its top edge, likewise.
    """

    def __init__(
        self,
        canvas: Canvas,
        *,
        embedding: Embedding,
        job: PrintJob,
        left_dots: int,
        top_dots: int,
    ) -> None:
        load_faces()
        self.job = job
        self.dpi = job.dpi
        self._canvas, self._embedding = canvas, embedding
        self._left_dots, self._top_dots = left_dots, top_dots
        self._page_height_pt = self.dots_pt(dots(job.stock.page_height_um, job.dpi))
        self.width_pt = self.dots_pt(dots(job.stock.label_width_um, job.dpi))
        self.height_pt = self.dots_pt(dots(job.stock.label_height_um, job.dpi))
        self.margin_pt = self.dots_pt(dots(job.stock.margin_um, job.dpi))

    @property
    def inner_width_pt(self) -> float:
        """Width between the margins."""
        return self.width_pt - 2 * self.margin_pt

    @property
    def bottom_pt(self) -> float:
        """The lowest that may be drawn."""
        return self.height_pt - self.margin_pt

    @property
    def inner_height_pt(self) -> float:
        """Height between the margins."""
        return self.height_pt - 2 * self.margin_pt

    def next_page(self) -> None:
        """Begin another page."""
        self._canvas.showPage()

    def inset(self, *, at: tuple[float, float], width_um: int, height_um: int) -> Sheet:
        """A label of that size drawn within this one, left and top in points."""
        stock = replace(
            self.job.stock,
            label_width_um=width_um,
            label_height_um=height_um,
            margin_um=MARGIN_UM,
        )
        return Sheet(
            self._canvas,
            embedding=self._embedding,
            job=replace(self.job, stock=stock),
            left_dots=self._left_dots + self.dots_in(at[0]),
            top_dots=self._top_dots + self.dots_in(at[1]),
        )

    def dots_pt(self, dots: int) -> float:
        """Points of whole printer dots."""
        return dots * POINTS_PER_INCH / self.dpi

    def dots_in(self, space_pt: float) -> int:
        """Whole printer dots in a space."""
        return int(space_pt * self.dpi / POINTS_PER_INCH + 1e-9)

    def line(
        self,
        text: str,
        *,
        at: tuple[float, float],
        space_pt: float,
        size_pt: float,
        size_min_pt: float,
        face: str = PLAIN,
        is_right: bool = False,
    ) -> float:
        """Draw one line that shrinks, then is cut, to fit.

        Args:
            text: Any text.
            at: Left and top of its space.
            space_pt: Width of its space.
            size_pt: Wanted size.
            size_min_pt: Smallest size.
            face: `PLAIN` or `BOLD`.
            is_right: Whether it ends at the right of its space.

        Returns:
            Where the next line begins, as if at the wanted size.
        """
        fit = fitted(text, face, space_pt=space_pt, size_pt=size_pt, size_min_pt=size_min_pt)
        left, top = at
        if is_right:
            left += space_pt - width_pt(fit.text, face, fit.size_pt)
        self._draw(fit.text, left, top + ASCENT * size_pt, face, fit.size_pt)
        return top + LINE_HEIGHT * size_pt

    def lines(
        self, lines: Sequence[str], *, at: tuple[float, float], size_pt: float, face: str = PLAIN
    ) -> float:
        """Draw lines that were wrapped to fit; returns where the next begins."""
        left, top = at
        for text in lines:
            self._draw(text, left, top + ASCENT * size_pt, face, size_pt)
            top += LINE_HEIGHT * size_pt
        return top

    def rule(self, *, top_pt: float, thick_pt: float = 1) -> None:
        """Draw a line from margin to margin."""
        self.black(self.margin_pt, top_pt, self.inner_width_pt, thick_pt)

    def black(self, left: float, top: float, width: float, height: float) -> None:
        """Draw a black rectangle, in points."""
        self._canvas.setFillGray(0)
        self._canvas.rect(self._x(left), self._y(top + height), width, height, stroke=0, fill=1)

    @property
    def strokes(self) -> Strokes:
        """What draws lines and cards here, in points."""
        return Strokes(self._canvas, self._x, self._y)

    def demo(self, *, right_pt: float, top_pt: float, size_pt: float) -> float:
        """Draw DEMO, white on black, ending at `right_pt`; returns its width."""
        width = width_pt("DEMO", BOLD, size_pt) + size_pt
        self.black(right_pt - width, top_pt, width, LINE_HEIGHT * size_pt)
        self._canvas.setFillGray(1)
        self._canvas.setFont(BOLD, size_pt)
        baseline = self._y(top_pt + ASCENT * size_pt)
        self._canvas.drawString(self._x(right_pt - width + size_pt / 2), baseline, "DEMO")
        self._canvas.setFillGray(0)
        return width

    def own_code(
        self, code: str, *, at: tuple[float, float], space_pt: float, module_pt: float
    ) -> float:
        """Draw a code of the shop as large as fits a square; returns the side of the symbol.

        Where the shop has an address, that of the code in a QR, for phones; where it has none, or
        the QR does not fit, the code alone in a Data Matrix.

        Raises:
            SymbolSpaceError: the code needs more room; the facts say how much.
        """
        if self.job.address:
            link = f"{self.job.address}/s/{code}"
            with suppress(SymbolSpaceError):
                return self.square(
                    link, SymbolKind.QR, at=at, space_pt=space_pt, module_pt=module_pt
                )
        return self.square(
            code, SymbolKind.DATAMATRIX, at=at, space_pt=space_pt, module_pt=module_pt
        )

    def square(
        self,
        text: str,
        kind: SymbolKind,
        *,
        at: tuple[float, float],
        space_pt: float,
        module_pt: float,
    ) -> float:
        """Draw a square symbol as large as fits, quiet zone within; returns its side.

        Args:
            text: What it carries.
            kind: Data Matrix or QR.
            at: Left and top of the square; moved to whole dots.
            space_pt: Side of the square.
            module_pt: Largest module.

        Raises:
            SymbolSpaceError: it needs more room; the facts say how much.
        """
        side = self.dots_in(space_pt)
        plan = symbol_plan(
            text,
            kinds=[kind],
            space=Space(side, side),
            dpi=self.dpi,
            use=Use.SHOP,
            module_dots_max=self.dots_in(module_pt),
        )
        (planned,) = plan.symbols
        self.symbol(planned, left_dots=self.dots_in(at[0]), top_dots=self.dots_in(at[1]))
        return self.dots_pt(planned.width_dots)

    def code128(
        self,
        text: str,
        *,
        at: tuple[float, float],
        space_pt: float,
        height_pt: float,
        module_pt: float,
    ) -> bool:
        """Draw a Code 128 in the middle of a space, quiet zones within.

        Args:
            text: What it carries.
            at: Left and top of the space; moved to whole dots.
            space_pt: Width of the space.
            height_pt: Height of the bars.
            module_pt: Largest module.

        Returns:
            False when it does not fit with modules that scan; nothing is drawn then.
        """
        space = Space(self.dots_in(space_pt), self.dots_in(height_pt))
        try:
            plan = symbol_plan(
                text,
                kinds=[SymbolKind.CODE128],
                space=space,
                dpi=self.dpi,
                use=Use.SHOP,
                module_dots_max=self.dots_in(module_pt),
            )
        except SymbolSpaceError:
            return False
        (planned,) = plan.symbols
        self.symbol(
            planned,
            left_dots=self.dots_in(at[0]) + (space.width_dots - planned.width_dots) // 2,
            top_dots=self.dots_in(at[1]),
            height_dots=space.height_dots,
        )
        return True

    def symbol(
        self,
        planned: PlannedSymbol,
        *,
        left_dots: int,
        top_dots: int,
        height_dots: int | None = None,
    ) -> None:
        """Draw a symbol as planned, its quiet zone within.

        Args:
            planned: What, and how many dots a module.
            left_dots: Of its space, quiet zone included.
            top_dots: Likewise; bars have no quiet zone above.
            height_dots: Of bars; none: the least.
        """
        module = planned.module_dots
        if planned.kind is SymbolKind.CODE128:
            height = height_dots or planned.height_dots
            left = left_dots + CODE128_QUIET_MODULES * module
            bars = _bars(planned.text, left, top_dots, height, module)
        else:
            modules, quiet_modules = SQUARES[planned.kind]
            quiet = quiet_modules * module
            left, top = left_dots + quiet, top_dots + quiet
            bars = [
                (left + start * module, top + row * module, length * module, module)
                for row, cells in enumerate(modules(planned.text))
                for start, length in _dark_runs(cells)
            ]
        self.fill(bars)

    def fill(self, bars: Sequence[Rectangle]) -> None:
        """Fill rectangles of whole dots.

        One path for all, so that a screen draws no hair line between those that touch.
        """
        path = self._canvas.beginPath()
        for left, top, width, height in bars:
            x = self.dots_pt(self._left_dots + left)
            lower = self._page_height_pt - self.dots_pt(self._top_dots + top + height)
            path.rect(x, lower, self.dots_pt(width), self.dots_pt(height))
        self._canvas.setFillGray(0)
        self._canvas.drawPath(path, stroke=0, fill=1)

    def _draw(self, text: str, left: float, baseline: float, face: str, size_pt: float) -> None:
        x, y = self._x(left), self._y(baseline)
        if is_latin(text):
            self._embedding.draw_latin(text, face, x=x, y=y, size_pt=size_pt)
        else:
            line = shaped(text, is_bold=face == BOLD)
            self._embedding.draw(line, x=x, y=y, size_pt=size_pt)

    def _x(self, left_pt: float) -> float:
        """On the page, from its left edge."""
        return self.dots_pt(self._left_dots) + left_pt

    def _y(self, top_pt: float) -> float:
        """On the page, from its lower edge."""
        return self._page_height_pt - self.dots_pt(self._top_dots) - top_pt


def _bars(text: str, left: int, top: int, height: int, module: int) -> list[Rectangle]:
    bars = []
    for place, width in enumerate(code128_widths(text)):
        if place % 2 == 0:  # a bar, then a space, by turns
            bars.append((left, top, width * module, height))
        left += width * module
    return bars


def _dark_runs(cells: Sequence[bool]) -> list[tuple[int, int]]:
    """Start and length of each run of dark modules in a row."""
    runs: list[tuple[int, int]] = []
    for place, is_dark in enumerate(cells):
        if is_dark and place and cells[place - 1]:
            start, length = runs[-1]
            runs[-1] = (start, length + 1)
        elif is_dark:
            runs.append((place, 1))
    return runs
