"""Type for every script: which font has a character, and how it shapes a run of them.

The Latin faces come first; a line that they hold never gets here. All else is loaded when first
asked for and kept for the process; the files are mapped, not read.
"""

from __future__ import annotations

import unicodedata
from functools import cache, cached_property, lru_cache
from importlib.util import find_spec
from itertools import groupby
from pathlib import Path
from typing import Any, Final, NamedTuple

import uharfbuzz as hb

from batches.labels.rules.bidi import levels, visual

LINE_TOP: Final = 0.93
LINE_BOTTOM: Final = -0.27
"""How far ink may go from the baseline, of the type size: a line is 1.2 high."""
NOTO: Final = (
    *("", "Arabic", "Hebrew", "Thai", "Devanagari", "Armenian", "Bengali", "Ethiopic"),
    *("Georgian", "Gujarati", "Gurmukhi", "Kannada", "Khmer", "Lao", "Malayalam", "Myanmar"),
    *("Oriya", "Sinhala", "Tamil", "Telugu"),
)
IGNORED: Final = frozenset("\u200c\u200d\ufe0e\ufe0f")
"""Joiners and picks of a form: a font need not have them."""
CODED: Final = frozenset({"Cc", "Cs", "Co", "Cn"})
GREEK: Final = "\u0370"
MARKS: Final = "\u2000"
STROKE: Final = 0.03
"""Width of the line that makes type bold whose font has no bold, of the type size."""


class Font:
    """One font at one weight.

    Args:
        path: Of the file.
        is_bold: Whether it is the bold of a font that has several weights.
        is_stroked: Whether its bold is made by drawing its outline too.
    """

    def __init__(self, path: Path, *, is_bold: bool = False, is_stroked: bool = False) -> None:
        self.path, self.is_bold, self.is_stroked = path, is_bold, is_stroked

    @cached_property
    def face(self) -> Any:
        """The file, mapped."""
        return hb.Face(hb.Blob.from_file_path(str(self.path)))

    @cached_property
    def type(self) -> Any:
        """The face at its weight."""
        font = hb.Font(self.face)
        if self.is_bold and self.face.axis_infos:
            font.set_variations({"wght": 700})
        return font

    @cached_property
    def em(self) -> int:
        """Units of the type size."""
        return int(self.face.upem)

    def has(self, cluster: str) -> bool:
        """Whether it has all of these."""
        return all(
            self.type.get_nominal_glyph(ord(each)) for each in cluster if each not in IGNORED
        )


class Glyph(NamedTuple):
    """A glyph where it is drawn; lengths are of the type size.

    Attributes:
        number: In its font.
        text: What it stands for, in the first glyph of a cluster.
    """

    number: int
    advance: float
    x: float
    y: float
    text: str


class Run(NamedTuple):
    """Glyphs of one font, from left to right."""

    font: Font
    glyphs: tuple[Glyph, ...]


class Shaped(NamedTuple):
    """A line ready to be drawn.

    Attributes:
        runs: From left to right.
        scale: Of the type size, where letters are higher than a line.
        rise: Of the baseline, of the type size.
        width: Of the type size.
    """

    text: str
    runs: tuple[Run, ...]
    scale: float
    rise: float
    width: float


@cache
def fonts_of(*, is_bold: bool) -> tuple[Font, ...]:
    """All there are, the first choice first."""
    noto, cjk = _folder("manimgx_fonts"), _folder("paperang_p2_fonts_cjk") / "fonts"
    latin = _folder("reportlab") / "fonts" / ("VeraBd.ttf" if is_bold else "Vera.ttf")
    others = [noto / f"NotoSans{name}[wght].ttf" for name in NOTO]
    last = [noto / "NotoSansSymbols[wght].ttf", noto / "NotoEmoji[wght].ttf"]
    return (
        Font(latin),
        *(Font(path, is_bold=is_bold) for path in others),
        Font(cjk / "wqy-microhei.ttc", is_stroked=is_bold),
        *(Font(path, is_bold=is_bold) for path in last),
    )


def _folder(package: str) -> Path:
    spec = find_spec(package)
    assert spec
    assert spec.origin
    return Path(spec.origin).parent


def clusters(text: str) -> list[str]:
    """Letters with the marks and joiners that belong to them; none is ever cut apart."""
    found: list[str] = []
    for letter in text:
        is_mark = unicodedata.category(letter).startswith("M") or letter in IGNORED
        if found and (is_mark or found[-1].endswith("\u200d")) and found[-1] != " ":
            found[-1] += letter
        else:
            found.append(letter)
    return found


@lru_cache(maxsize=8192)
def font_of(cluster: str, *, is_bold: bool) -> Font | None:
    """The first font that has all of a cluster."""
    if any(unicodedata.category(each) in CODED for each in cluster):
        return None
    latin, *others = fonts_of(is_bold=is_bold)
    # The Latin face has a few Greek letters, as signs: a word is of one type.
    found = [*others, latin] if GREEK <= cluster[0] < MARKS else [latin, *others]
    return next((font for font in found if font.has(cluster)), None)


@lru_cache(maxsize=4096)
def shaped(text: str, *, is_bold: bool) -> Shaped:
    """Glyphs of a line, in the order they stand on paper.

    Args:
        text: What `one_line` of this room gave: some font has each of it.
        is_bold: Whether in bold.
    """
    found = levels(text)
    parts: list[tuple[int, Font, str]] = []
    place = 0
    for cluster in clusters(text):
        is_whole = font_of(cluster, is_bold=is_bold) is not None
        for piece in [cluster] if is_whole else cluster:  # a letter and a mark of two fonts
            font = font_of(piece, is_bold=is_bold)
            assert font
            parts.append((found[place], font, piece))
            place += len(piece)
    joined = [
        (level, font, "".join(cluster for _, _, cluster in group))
        for (level, font), group in groupby(parts, key=lambda part: part[:2])
    ]
    order = visual([level for level, _, _ in joined])
    runs, top, bottom = [], 0.0, 0.0
    for level, font, words in (joined[at] for at in order):
        run, high, low = _run(font, words, is_left=level % 2 == 1)
        runs.append(run)
        top, bottom = max(top, high), min(bottom, low)
    scale = min(1.0, (LINE_TOP - LINE_BOTTOM) / (top - bottom)) if top > bottom else 1.0
    rise = min(0.0, LINE_TOP - top * scale) or max(0.0, LINE_BOTTOM - bottom * scale)
    width = scale * sum(glyph.advance for run in runs for glyph in run.glyphs)
    return Shaped(text, tuple(runs), scale, rise, width)


def _run(font: Font, words: str, *, is_left: bool) -> tuple[Run, float, float]:
    """A run shaped, its highest and its lowest ink."""
    buffer = hb.Buffer()
    buffer.add_str(words)
    buffer.direction = "rtl" if is_left else "ltr"
    buffer.guess_segment_properties()
    hb.shape(font.type, buffer)
    starts = sorted({info.cluster for info in buffer.glyph_infos})
    texts = {
        start: words[start:end]
        for start, end in zip(starts, [*starts[1:], len(words)], strict=True)
    }
    glyphs, top, bottom = [], 0.0, 0.0
    for info, at in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        text = texts.pop(info.cluster, "")
        glyphs.append(
            Glyph(
                info.codepoint,
                at.x_advance / font.em,
                at.x_offset / font.em,
                at.y_offset / font.em,
                text,
            )
        )
        ink = font.type.get_glyph_extents(info.codepoint)
        if ink and ink.height:
            high = at.y_offset + ink.y_bearing
            top = max(top, high / font.em)
            bottom = min(bottom, (high + ink.height) / font.em)
    return Run(font, tuple(glyphs)), top, bottom
