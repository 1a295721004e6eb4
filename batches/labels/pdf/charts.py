"""Control charts on paper: in black and gray what the page has in colors."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, NamedTuple

from batches.labels.pdf.documents import Row
from batches.labels.pdf.sheet import Sheet
from batches.labels.pdf.text import ASCENT
from batches.quality.rules.drawing import HEIGHT, LEFT, WIDTH, Drawing

NUMBER_PT: Final = 7.0
DOT_PT: Final = 2.0
FIRED_PT: Final = 7.0
"""The side of the square where a rule fired."""


class Pen(NamedTuple):
    """How a line is drawn."""

    gray: float
    thick: float
    dashes: tuple[float, ...] = ()


PENS: Final[Mapping[str, Pen]] = MappingProxyType(
    {
        "grid": Pen(0.75, 0.25),
        "center": Pen(0.35, 0.7),
        "limit": Pen(0, 0.7, (4, 3)),
        "values": Pen(0, 0.9),
    }
)


def chart_row(sheet: Sheet, drawing: Drawing) -> Row:
    """A chart as wide as the page."""
    scale = sheet.inner_width_pt / WIDTH

    def draw(top: float) -> None:
        def on_page(x: float, y: float) -> tuple[float, float]:
            return sheet.margin_pt + x * scale, top + y * scale

        for kind, places in drawing.lines:
            pen = PENS[kind]
            sheet.strokes.line(
                [on_page(*place) for place in places],
                gray=pen.gray,
                thick=pen.thick,
                dashes=pen.dashes,
            )
        for dot in drawing.dots:
            left, down = on_page(dot.x, dot.y)
            if dot.is_fired:
                half = FIRED_PT / 2
                sheet.black(left - half, down - half, FIRED_PT, FIRED_PT)
            else:
                sheet.strokes.dot((left, down), radius=DOT_PT)
        for words, y in drawing.numbers:
            left, down = on_page(0, y)
            sheet.line(
                words,
                at=(left, down - ASCENT * NUMBER_PT / 2),
                space_pt=(LEFT - 8) * scale,
                size_pt=NUMBER_PT,
                size_min_pt=NUMBER_PT / 2,
                is_right=True,
            )

    return Row(HEIGHT * scale, draw)
