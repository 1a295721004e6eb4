"""A drawing as SVG: text that fits, states in words, a title and a description of every card."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Final, NamedTuple
from unicodedata import east_asian_width
from xml.sax.saxutils import escape

from batches.trace.rules.drawing import (
    CARD_WIDTH,
    LINE,
    PAD,
    TEXT_SIZE,
    TITLE_SIZE,
    Card,
    Curve,
    Drawing,
    Placed,
)

FACES: Final = "Verdana, DejaVu Sans, Bitstream Vera Sans, Noto Sans, sans-serif"
"""Faces as wide as `letter_width` says, or less."""

NARROW: Final = frozenset("fijlrtI.,:;|!'()[]/- ")
WIDE: Final = frozenset("mwMW@%&")
MARGIN: Final = 6.0
HEAD: Final = 36.0
HEAD_SIZE: Final = 12.0
WIDTH_MIN: Final = 540.0
ELLIPSIS: Final = "…"
_UNFIT: Final = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What XML 1.0 cannot hold."""


def letter_width(letter: str, *, is_bold: bool) -> float:
    """At most so wide, of the type size: by the widest of the faces (measured on DejaVu Sans)."""
    if letter in WIDE or east_asian_width(letter) in "WF":
        width = 1.0
    elif letter in NARROW:
        width = 0.47
    else:
        width = 0.79 if letter.isupper() else 0.65
    return width * 1.13 if is_bold else width


def cut(text: str, *, space: float, size: float, is_bold: bool = False) -> str:
    """The text, or as much of its beginning as fits, with an ellipsis."""
    text = " ".join(text.split())
    widths = [letter_width(letter, is_bold=is_bold) * size for letter in text]
    if sum(widths) <= space:
        return text
    room = space - letter_width(ELLIPSIS, is_bold=is_bold) * size
    kept = 0
    while widths[kept] <= room:
        room -= widths[kept]
        kept += 1
    return text[:kept].rstrip() + ELLIPSIS


def as_svg(
    drawing: Drawing, *, leads: Callable[[Card], str] | None = None, scale: float = 1.0
) -> str:
    """The whole drawing.

    Args:
        drawing: What is drawn.
        leads: The address that a card leads to, empty for none.
        scale: How large, of its own size.
    """
    picture = drawing.picture
    width = max(drawing.width, WIDTH_MIN) + 2 * MARGIN
    height = HEAD + drawing.height + 2 * MARGIN
    corner = f"{-MARGIN:g} {-MARGIN - HEAD:g}"
    title = cut(picture.title, space=width - 2 * MARGIN, size=HEAD_SIZE, is_bold=True)
    about = cut(picture.about, space=width - 2 * MARGIN, size=TEXT_SIZE)
    attributes = {
        "xmlns": "http://www.w3.org/2000/svg",
        "width": f"{width * scale:g}pt",
        "height": f"{height * scale:g}pt",
        "viewBox": f"{corner} {width:g} {height:g}",
        "role": "img" if leads is None else "group",
        "aria-labelledby": "trace-title trace-about",
        "font-family": FACES,
    }
    lines = [
        "<svg " + " ".join(f'{name}="{value}"' for name, value in attributes.items()) + ">",
        f'<title id="trace-title">{_safe(picture.title)}</title>',
        f'<desc id="trace-about">{_safe(picture.about)}</desc>',
        f'<path d="M{corner}h{width:g}v{height:g}h{-width:g}z" fill="#fff"/>',
        '<g fill="none" stroke="#555" stroke-width="0.8">',
        *(f'<path d="{_path(curve)}"/>' for curve in drawing.curves),
        "</g>",
        _text(title, 0, HEAD_SIZE - HEAD, size=HEAD_SIZE, is_bold=True),
        _text(about, 0, 2 * HEAD_SIZE - HEAD, size=TEXT_SIZE),
        *(
            line
            for placed in drawing.placed
            for line in _card(placed, "" if leads is None else leads(placed.card))
        ),
        "</svg>\n",
    ]
    return "\n".join(lines)


def _path(curve: Curve) -> str:
    (x, y), *others = curve
    path = [f"M{x:g} {y:.1f}"]
    for number, (to_x, to_y) in enumerate(others):
        middle = (x + to_x) / 2
        is_straight = number % 2
        path.append(
            f"H{to_x:g}"
            if is_straight
            else f"C{middle:g} {y:.1f} {middle:g} {to_y:.1f} {to_x:g} {to_y:.1f}"
        )
        x, y = to_x, to_y
    return "".join(path)


def _card(placed: Placed, address: str) -> Iterator[str]:
    card = placed.card
    kind = "" if card.of > 1 else "Posting " if card.is_event else "Lot "
    told = _safe(f"{kind}{card.title}: {'; '.join(card.lines)}")
    if address:
        yield f'<a href="{_quoted(_safe(address))}" aria-label="{_quoted(told)}">'
    yield f"<g><title>{told}</title>"
    fill, radius = ("#f2f2f2", 8) if card.is_event else ("#fff", 1)
    stroke = 'stroke="#000" stroke-width="2.4"' if card.is_start else 'stroke="#333"'
    if card.of > 1:  # a stack
        yield (
            f'<rect x="{placed.left + 3:g}" y="{placed.top + 3:.1f}" width="{CARD_WIDTH:g}" '
            f'height="{card.height:g}" rx="{radius}" fill="{fill}" {stroke}/>'
        )
    yield (
        f'<rect x="{placed.left:g}" y="{placed.top:.1f}" width="{CARD_WIDTH:g}" '
        f'height="{card.height:g}" rx="{radius}" fill="{fill}" {stroke}/>'
    )
    for words in words_of(card):
        yield _text(
            words.text,
            placed.left + words.x,
            placed.top + words.y,
            size=words.size,
            is_bold=words.is_bold,
            is_right=words.is_right,
        )
    yield "</g></a>" if address else "</g>"


def _text(
    text: str, x: float, y: float, *, size: float, is_bold: bool = False, is_right: bool = False
) -> str:
    weight = ' font-weight="bold"' if is_bold else ""
    end = ' text-anchor="end"' if is_right else ""
    return f'<text x="{x:g}" y="{y:.1f}" font-size="{size:g}"{weight}{end}>{_safe(text)}</text>'


class Words(NamedTuple):
    """A line of a card.

    Attributes:
        text: Cut to its room.
        x: From the card's left to where it begins, or ends.
        y: From its top to the baseline.
        size: Of the type.
    """

    text: str
    x: float
    y: float
    size: float
    is_bold: bool = False
    is_right: bool = False


def words_of(card: Card) -> Iterator[Words]:
    """What stands on a card and where."""
    room = CARD_WIDTH - 2 * PAD
    baseline = PAD + LINE * 0.8
    title = cut(card.title, space=room, size=TITLE_SIZE, is_bold=True)
    yield Words(title, PAD, baseline, TITLE_SIZE, is_bold=True)
    for number, line in enumerate(card.lines, 1):
        text = cut(line, space=room, size=TEXT_SIZE)
        yield Words(text, PAD, baseline + number * LINE, TEXT_SIZE)
    for rows, is_right in ((card.takes, False), (card.makes, True)):
        x = CARD_WIDTH - PAD if is_right else PAD
        for row, (_, amount) in enumerate(rows):
            text = cut(amount, space=room / 2 - 2, size=TEXT_SIZE)
            yield Words(text, x, card.port(row) + LINE * 0.3, TEXT_SIZE, is_right=is_right)


def _quoted(text: str) -> str:
    """A text that is safe already, as an attribute."""
    return text.replace('"', "&quot;")


def _safe(text: str) -> str:
    return escape(_UNFIT.sub("\ufffd", text))
