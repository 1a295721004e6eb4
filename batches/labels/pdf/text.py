"""Text that fits: faces, widths, shrinking, wrapping, cutting. Nothing is drawn here."""

from __future__ import annotations

import unicodedata
from functools import cache
from typing import Final, NamedTuple

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

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
def load_faces() -> None:
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
    load_faces()
    return ord(letter) in pdfmetrics.getFont(PLAIN).face.charToGlyph


def width_pt(text: str, face: str, size_pt: float) -> float:
    """Width of a line of text."""
    load_faces()
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
