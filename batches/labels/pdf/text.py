"""Text that fits: faces, widths, shrinking, wrapping, cutting. Nothing is drawn here."""

from __future__ import annotations

import unicodedata
from functools import cache, lru_cache
from typing import Final, NamedTuple

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from batches.labels.pdf.fonts import IGNORED, clusters, font_of, shaped

PLAIN: Final = "Vera"
BOLD: Final = "VeraBd"
ELLIPSIS: Final = "…"
LINE_HEIGHT: Final = 1.2
"""Baseline to baseline, of the type size."""
ASCENT: Final = 0.93
"""Top of a line to its baseline, of the type size: Vera's highest letters are 0.93 high."""
SIZE_STEP_PT: Final = 0.5
DIRECTIONS: Final = frozenset(
    "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
)
CJK_FROM: Final = "\u2e80"
CLOSING: Final = frozenset(
    "\u3001\u3002\uff0c\uff0e\uff1a\uff1b\uff1f\uff01\uff09\u300d\u300f\u3011\u3015\u3009\u300b"
    "ー々ぁぃぅぇぉっゃゅょァィゥェォッャュョ"
)
"""What never begins a line (common practice, no source)."""


class Fitted(NamedTuple):
    """Text at a size that fits."""

    text: str
    size_pt: float


@cache
def load_faces() -> None:
    """Embed the two faces that come with the PDF library, for Latin letters."""
    for name in (PLAIN, BOLD):
        pdfmetrics.registerFont(TTFont(name, f"{name}.ttf"))


@lru_cache(maxsize=4096)
def one_line(text: str) -> str:
    """Text as one line of characters that some font has.

    What none has stands as its code, `[U+E000]`, so that nobody takes it for blank and anyone can
    look it up. Controls of direction are dropped: they hide what a paper says.
    """
    text = unicodedata.normalize("NFC", " ".join(text.split()))
    if is_latin(text):
        return text
    text = " ".join("".join(letter for letter in text if letter not in DIRECTIONS).split())
    return "".join(
        cluster if font_of(cluster, is_bold=False) else _coded(cluster)
        for cluster in clusters(text)
    )


def is_latin(text: str) -> bool:
    """Whether the two faces hold all of it."""
    return _widths(PLAIN).keys() >= set(text)


@cache
def _widths(face: str) -> dict[str, float]:
    """Thousandths of the type size, by letter."""
    load_faces()
    font = pdfmetrics.getFont(face).face
    return {chr(code): font.getCharWidth(code) for code in font.charToGlyph}


def _coded(cluster: str) -> str:
    """The letters that a font has, then what none has as codes."""
    return "".join(
        letter if font_of(letter, is_bold=False) else f"[U+{ord(letter):04X}]"
        for letter in cluster
        if letter not in IGNORED
    )


def width_pt(text: str, face: str, size_pt: float) -> float:
    """Width of a line of text, as it is shaped."""
    if is_latin(text):
        return 0.001 * size_pt * sum(map(_widths(face).__getitem__, text))
    return shaped(text, is_bold=face == BOLD).width * size_pt


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
    letters = clusters(text)
    while letters:
        cut = "".join(letters).rstrip() + ELLIPSIS
        if width_pt(cut, face, size) <= space_pt:
            return Fitted(cut, size)
        letters.pop()
    return Fitted(ELLIPSIS, size)


def wrapped(text: str, face: str, *, space_pt: float, size_pt: float) -> list[str]:
    """The text in lines that fit a width; a word that is wider than that is broken.

    Chinese and Japanese break between any two characters, but not before closing marks.
    """
    lines: list[str] = []
    line = ""
    for word in one_line(text).split(" "):
        blank = " "
        for part in _parts(word):
            for piece in _broken(part, face, space_pt=space_pt, size_pt=size_pt):
                longer = f"{line}{blank}{piece}" if line else piece
                if width_pt(longer, face, size_pt) <= space_pt:
                    line = longer
                else:
                    lines.append(line)
                    line = piece
                blank = ""
    return [*lines, line] if line else lines


def _parts(word: str) -> list[str]:
    """Where a word may be broken without need."""
    if not any(letter >= CJK_FROM for letter in word):
        return [word]
    parts: list[str] = []
    for letter in clusters(word):
        is_held = parts and (letter in CLOSING or max(letter, parts[-1][-1]) < CJK_FROM)
        if is_held:
            parts[-1] += letter
        else:
            parts.append(letter)
    return parts


def _broken(word: str, face: str, *, space_pt: float, size_pt: float) -> list[str]:
    if width_pt(word, face, size_pt) <= space_pt:
        return [word]
    pieces = []
    letters = clusters(word)
    while len(letters) > 1 and width_pt("".join(letters), face, size_pt) > space_pt:
        end = len(letters) - 1
        while end > 1 and width_pt("".join(letters[:end]), face, size_pt) > space_pt:
            end -= 1
        pieces.append("".join(letters[:end]))
        letters = letters[end:]
    return [*pieces, "".join(letters)]
