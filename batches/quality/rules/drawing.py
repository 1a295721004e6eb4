"""Control charts and operating characteristics, laid out for page and paper, and as SVG.

Colors are classes of the page's sheet. A drawing says nothing that the tables beside it do not: it
is for those who see.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, NamedTuple
from xml.sax.saxutils import escape

WIDTH: Final = 760.0
HEIGHT: Final = 280.0
LEFT: Final = 64.0
RIGHT: Final = 16.0
TOP: Final = 16.0
BOTTOM: Final = 40.0
TICKS: Final = 5
ROOM: Final = 0.08  # of the height kept free above and below

TITLES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "np": "Failed pieces",
        "p": "Share of failed pieces",
        "p_prime": "Share of failed pieces, limits by how it usually varies",
        "c": "Flaws",
        "u": "Flaws a piece",
        "u_prime": "Flaws a piece, limits by how they usually vary",
        "mean": "Mean of each check",
        "range": "Range of each check",
        "individuals": "Single values",
        "moving_range": "From each value to the next",
    }
)
"""Of the charts, by their kinds."""
_OF_VALUES: Final = frozenset({"mean", "range", "individuals", "moving_range"})


def title_of(kind: str, unit: str) -> str:
    """What a chart shows, in the unit of its values."""
    return f"{TITLES[kind]}, {unit}" if unit and kind in _OF_VALUES else TITLES[kind]


def short(value: float | None) -> str:
    """A number of a chart, for people."""
    return "" if value is None else f"{value:.5g}"


class Point(NamedTuple):
    """A point of a control chart and its limits; a missing value leaves a gap."""

    value: float | None
    lower: float | None
    upper: float | None
    words: str
    is_fired: bool = False


class Scale(NamedTuple):
    """From values to places on the drawing."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """The place of a value."""
        share = (value - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)


def ticks(low: float, high: float, count: int = TICKS) -> list[float]:
    """Round numbers within a range: at most two more than asked for, steps of 1, 2 or 5 times ten.

    Args:
        low: Where it begins.
        high: Where it ends, above `low`.
        count: About how many.
    """
    assert high > low
    rough = (high - low) / count
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(each * power for each in (1, 2, 5, 10) if each * power >= rough * (1 - 1e-9))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [number * step for number in range(first, last + 1)]


class Line(NamedTuple):
    """A line from place to place.

    Attributes:
        kind: grid, center, limit, values.
    """

    kind: str
    places: Sequence[tuple[float, float]]


class Dot(NamedTuple):
    """A point, round; or square where a rule fired at it."""

    x: float
    y: float
    words: str
    is_fired: bool


@dataclass(frozen=True, slots=True)
class Drawing:
    """A chart laid out within `WIDTH` and `HEIGHT`.

    Attributes:
        lines: In the order in which they are drawn.
        dots: Above them.
        numbers: Left of the lines across, and how far down.
    """

    lines: Sequence[Line]
    dots: Sequence[Dot]
    numbers: Sequence[tuple[str, float]]


def laid_out(points: Sequence[Point], *, center: float) -> Drawing:
    """A control chart: the values in their order, the center, each point's own limits."""
    known = [
        each
        for point in points
        for each in (point.value, point.lower, point.upper)
        if each is not None
    ] + [center]
    low, high = _range(min(known), max(known))
    across = Scale(0, max(len(points) - 1, 1), LEFT + 8, WIDTH - RIGHT - 8)
    up = Scale(low, high, HEIGHT - BOTTOM, TOP)
    at_ticks = [(each, up.at(each)) for each in ticks(low, high)]
    lines = [Line("grid", [(LEFT, y), (WIDTH - RIGHT, y)]) for _, y in at_ticks]
    lines.append(Line("center", [(LEFT, up.at(center)), (WIDTH - RIGHT, up.at(center))]))
    for side in ("lower", "upper"):
        limits = [(at, getattr(point, side)) for at, point in enumerate(points)]
        lines += [Line("limit", _stairs(part, across, up)) for part in _unbroken(limits)]
    values = [(at, point.value) for at, point in enumerate(points)]
    for part in _unbroken(values):
        lines.append(Line("values", [(across.at(at), up.at(value)) for at, value in part]))
    dots = [
        Dot(across.at(at), up.at(point.value), point.words, point.is_fired)
        for at, point in enumerate(points)
        if point.value is not None
    ]
    return Drawing(lines, dots, [(f"{each:.6g}", y) for each, y in at_ticks])


def control_chart(drawing: Drawing, *, title: str) -> str:
    """A control chart as SVG."""
    parts = [_line(*line) for line in drawing.lines]
    parts += [_number(words, y) for words, y in drawing.numbers]
    parts += map(_dot, drawing.dots)
    return _svg(title, "".join(parts))


def characteristic(curve: Sequence[tuple[float, float]], *, title: str) -> str:
    """How often lots pass, by how often the process fails; both as shares.

    Args:
        curve: Failing share and accepted share, in the order of the first.
        title: What it is.
    """
    right = max((failing for failing, _ in curve), default=0.0) or 1.0
    across = Scale(0, right, LEFT, WIDTH - RIGHT)
    up = Scale(0, 1, HEIGHT - BOTTOM, TOP)
    parts = list(_frame(up))
    for each in ticks(0, right):
        x = across.at(each)
        parts.append(
            f'<text x="{x:.1f}" y="{HEIGHT - BOTTOM + 20:g}" text-anchor="middle">'
            f"{_percent(each)}</text>"
        )
    parts.append(_line("values", [(across.at(x), up.at(y)) for x, y in [(0.0, 1.0), *curve]]))
    parts.append(
        f'<text x="{WIDTH - RIGHT:g}" y="{HEIGHT - 4:g}" text-anchor="end">pieces that fail</text>'
    )
    return _svg(title, "".join(parts))


def _range(low: float, high: float) -> tuple[float, float]:
    room = (high - low) * ROOM or abs(high) * ROOM or 1.0
    return low - room, high + room


def _frame(up: Scale) -> Iterator[str]:
    """Lines across at round shares, and the shares."""
    for each in ticks(up.low, up.high):
        yield _line("grid", [(LEFT, up.at(each)), (WIDTH - RIGHT, up.at(each))])
        yield _number(_percent(each), up.at(each))


def _number(words: str, y: float) -> str:
    return f'<text x="{LEFT - 8:g}" y="{y + 4:.1f}" text-anchor="end">{words}</text>'


def _percent(share: float) -> str:
    return f"{share * 100:.3g} %"


def _unbroken(values: Sequence[tuple[int, float | None]]) -> Iterator[list[tuple[int, float]]]:
    """Runs without a gap."""
    run: list[tuple[int, float]] = []
    for at, value in values:
        if value is not None:
            run.append((at, value))
        elif run:
            yield run
            run = []
    if run:
        yield run


def _stairs(
    part: Sequence[tuple[int, float]], across: Scale, up: Scale
) -> list[tuple[float, float]]:
    """Each limit holds half a step to both sides of its point."""
    half = (across.at(1) - across.at(0)) / 2
    return [
        (min(max(across.at(at) + side, LEFT), WIDTH - RIGHT), up.at(value))
        for at, value in part
        for side in (-half, half)
    ]


def _line(kind: str, places: Sequence[tuple[float, float]]) -> str:
    way = " ".join(f"{x:.1f},{y:.1f}" for x, y in places)
    return f'<polyline class="{kind}" points="{way}"/>'


def _dot(dot: Dot) -> str:
    words = f"<title>{escape(dot.words)}</title>"
    if not dot.is_fired:
        return f'<circle class="dot" cx="{dot.x:.1f}" cy="{dot.y:.1f}" r="3.5">{words}</circle>'
    return (
        f'<rect class="fired" x="{dot.x - 6:.1f}" y="{dot.y - 6:.1f}" width="12" height="12">'
        f"{words}</rect>"
    )


def _svg(title: str, inner: str) -> str:
    name = escape(title, {'"': "&quot;"})
    return (
        f'<svg class="chart" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" role="img" aria-label="{name}">'
        f"{inner}</svg>"
    )
