"""One page to draw on: text that shrinks to fit, rules, and symbols in whole printer dots.

Measured from the top left corner; text and rules in points, symbols in dots.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from functools import cache
from typing import IO, Final, NamedTuple

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from batches.labels.rules.geometry import (
    CODE128_DOTS_MIN,
    DATAMATRIX_DOTS_MIN,
    POINTS_PER_INCH,
    STOCKS,
    whole_dots,
)
from batches.labels.rules.papers import Letterhead
from shopfloor.codes.symbols import (
    CODE128_QUIET_MODULES,
    DATAMATRIX_QUIET_MODULES,
    code128_widths,
    datamatrix_modules,
)

PLAIN: Final = "Vera"
BOLD: Final = "VeraBd"
ELLIPSIS: Final = "…"
LINE_HEIGHT: Final = 1.2
"""Baseline to baseline, of the type size."""
ASCENT: Final = 0.93
"""Top of a line to its baseline, of the type size: Vera's highest letters are 0.93 high."""
SIZE_STEP_PT: Final = 0.5


class Fitted(NamedTuple):
    """Text at a size that fits."""

    text: str
    size_pt: float


@cache
def _fonts() -> None:
    """Embed the two faces that come with the PDF library: Latin letters, and no others."""
    for name in (PLAIN, BOLD):
        pdfmetrics.registerFont(TTFont(name, f"{name}.ttf"))


def one_line(text: str) -> str:
    """Text as one line of characters that the faces have.

    A letter with a mark that they lack loses the mark. What they lack altogether (other scripts)
    is drawn as an empty frame, so that nobody takes it for blank.
    """
    composed = unicodedata.normalize("NFC", " ".join(text.split()))
    return "".join(
        letter if _has(letter) else unicodedata.normalize("NFD", letter)[0] for letter in composed
    )


def _has(letter: str) -> bool:
    _fonts()
    return ord(letter) in pdfmetrics.getFont(PLAIN).face.charToGlyph


def width_pt(text: str, face: str, size_pt: float) -> float:
    """Width of a line of text."""
    _fonts()
    return float(pdfmetrics.stringWidth(text, face, size_pt))


def fitted(text: str, face: str, *, space_pt: float, size_pt: float, size_min_pt: float) -> Fitted:
    """The text as large as fits a width; at the smallest size cut, with an ellipsis.

    Args:
        text: Any text; space in it becomes single blanks.
        face: `PLAIN` or `BOLD`.
        space_pt: The width there is.
        size_pt: Wanted size.
        size_min_pt: Smallest size.
    """
    text = one_line(text)
    size = size_pt
    while size > size_min_pt and width_pt(text, face, size) > space_pt:
        size = max(size - SIZE_STEP_PT, size_min_pt)
    if width_pt(text, face, size) <= space_pt:
        return Fitted(text, size)
    while text and width_pt(text + ELLIPSIS, face, size) > space_pt:
        text = text[:-1]
    return Fitted(text.rstrip() + ELLIPSIS, size)


def wrapped(text: str, face: str, *, space_pt: float, size_pt: float) -> list[str]:
    """The text in lines that fit a width; a word that is wider than that is broken."""
    lines: list[str] = []
    line = ""
    for word in one_line(text).split(" "):
        for piece in _broken(word, face, space_pt=space_pt, size_pt=size_pt):
            longer = f"{line} {piece}" if line else piece
            if width_pt(longer, face, size_pt) <= space_pt:
                line = longer
            else:
                lines.append(line)
                line = piece
    return [*lines, line] if line else lines


def _broken(word: str, face: str, *, space_pt: float, size_pt: float) -> list[str]:
    pieces = []
    while len(word) > 1 and width_pt(word, face, size_pt) > space_pt:
        end = len(word) - 1
        while end > 1 and width_pt(word[:end], face, size_pt) > space_pt:
            end -= 1
        pieces.append(word[:end])
        word = word[end:]
    return [*pieces, word]


class Sheet:
    """A page of one stock for one printer."""

    def __init__(self, file: IO[bytes], *, stock: str, head: Letterhead, title: str) -> None:
        _fonts()
        self.stock = STOCKS[stock]
        self.dpi = head.dpi
        self.width_pt = self.stock.width_in * POINTS_PER_INCH
        self.height_pt = self.stock.height_in * POINTS_PER_INCH
        self.margin_pt = self.stock.margin_in * POINTS_PER_INCH
        # Invariant: no time of making in the file, so that the same paper is the same bytes.
        self._canvas = Canvas(file, pagesize=(self.width_pt, self.height_pt), invariant=1)
        self._canvas.setTitle(title)
        self._canvas.setAuthor(head.shop_name)

    @property
    def inner_width_pt(self) -> float:
        """Width between the margins."""
        return self.width_pt - 2 * self.margin_pt

    @property
    def bottom_pt(self) -> float:
        """The lowest that may be drawn."""
        return self.height_pt - self.margin_pt

    def save(self) -> None:
        """End the page and write the file."""
        self._canvas.showPage()
        self._canvas.save()

    def next_page(self) -> None:
        """Begin another page."""
        self._canvas.showPage()

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
        self._canvas.rect(left, self.height_pt - top - height, width, height, stroke=0, fill=1)

    def demo(self, *, right_pt: float, top_pt: float, size_pt: float) -> float:
        """Draw DEMO, white on black, ending at `right_pt`; returns its width."""
        width = width_pt("DEMO", BOLD, size_pt) + size_pt
        self.black(right_pt - width, top_pt, width, LINE_HEIGHT * size_pt)
        self._canvas.setFillGray(1)
        self._canvas.setFont(BOLD, size_pt)
        baseline = self.height_pt - top_pt - ASCENT * size_pt
        self._canvas.drawString(right_pt - width + size_pt / 2, baseline, "DEMO")
        self._canvas.setFillGray(0)
        return width

    def datamatrix(
        self, text: str, *, at: tuple[float, float], space_pt: float, module_pt: float
    ) -> float:
        """Draw a Data Matrix as large as fits a square, quiet zone within; returns its side.

        Args:
            text: What it carries.
            at: Left and top of the square; moved to whole dots.
            space_pt: Side of the square.
            module_pt: Largest module.
        """
        rows = datamatrix_modules(text)
        modules = len(rows) + 2 * DATAMATRIX_QUIET_MODULES
        space_dots = self.dots_in(space_pt)
        dots = whole_dots(
            modules=modules,
            space_dots=space_dots,
            dots_min=DATAMATRIX_DOTS_MIN,
            dots_max=self.dots_in(module_pt),
        )
        assert dots, "every code we keep fits every stock"
        left, top = (self.dots_in(place) + DATAMATRIX_QUIET_MODULES * dots for place in at)
        bars = [
            (left + start * dots, top + row * dots, length * dots, dots)
            for row, cells in enumerate(rows)
            for start, length in _dark_runs(cells)
        ]
        self._dots(bars)
        return self.dots_pt(modules * dots)

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
        widths = code128_widths(text)
        modules = sum(widths) + 2 * CODE128_QUIET_MODULES
        space_dots = self.dots_in(space_pt)
        dots = whole_dots(
            modules=modules,
            space_dots=space_dots,
            dots_min=CODE128_DOTS_MIN,
            dots_max=self.dots_in(module_pt),
        )
        if not dots:
            return False
        left = self.dots_in(at[0]) + (space_dots - sum(widths) * dots) // 2
        top, height = self.dots_in(at[1]), self.dots_in(height_pt)
        bars = []
        for place, width in enumerate(widths):
            if place % 2 == 0:  # a bar, then a space, by turns
                bars.append((left, top, width * dots, height))
            left += width * dots
        self._dots(bars)
        return True

    def _dots(self, bars: Sequence[tuple[int, int, int, int]]) -> None:
        """Fill rectangles of whole dots: left, top, width, height.

        One path for all, so that a screen draws no hair line between those that touch.
        """
        path = self._canvas.beginPath()
        for left, top, width, height in bars:
            lower = self.height_pt - self.dots_pt(top + height)
            path.rect(self.dots_pt(left), lower, self.dots_pt(width), self.dots_pt(height))
        self._canvas.setFillGray(0)
        self._canvas.drawPath(path, stroke=0, fill=1)

    def _draw(self, text: str, left: float, baseline: float, face: str, size_pt: float) -> None:
        self._canvas.setFillGray(0)
        self._canvas.setFont(face, size_pt)
        self._canvas.drawString(left, self.height_pt - baseline, text)


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
