"""Charts of a page, as inline SVG: shares side by side, and the course of an amount over days.

What a chart shows stands in a table beside it as well; colors are the page's own, by class.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from typing import Final, NamedTuple

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

_WIDTH: Final = 720.0
_TEXT: Final = 14.0
_BAR: Final = 18.0
_LEFT: Final = 84.0
_RIGHT: Final = 16.0
_TOP: Final = 28.0
_FLOOR: Final = 30.0
_HEIGHT: Final = 320.0
_TICKS: Final = 5
_NICE: Final = (1, 2, 2.5, 5, 10)
_DAY_GAPS: Final = (1, 2, 7, 14, 28, 56, 91, 182)
_DAY_LABELS: Final = 8


class Pair(NamedTuple):
    """Two shares of one thing, 0 to 1, and what stands at the end of each bar."""

    label: str
    share: float
    text: str
    other_share: float
    other_text: str


class Point(NamedTuple):
    """An amount on a day, and between what it may be."""

    on: date
    mean: float
    low: float
    high: float


class Mark(NamedTuple):
    """A day with a word to it."""

    on: date
    label: str


def pairs_chart(rows: Sequence[Pair], *, title: str, about: str) -> SafeString:
    """Two bars for each row, the first the one that is looked at."""
    most = max((max(row.share, row.other_share) for row in rows), default=0) or 1.0
    high = len(rows) * (_TEXT + 2 * _BAR + 22) + 4
    room = _WIDTH - 210.0
    inner = []
    y = 4.0
    for row in rows:
        inner.append(_words(row.label, 0, y + _TEXT, kind="strong"))
        y += _TEXT + 6
        for share, text, kind in (
            (row.share, row.text, "with"),
            (row.other_share, row.other_text, "without"),
        ):
            wide = max(1.0, share / most * room)
            inner.append(
                f'<rect class="{kind}" x="0" y="{y:.1f}" width="{wide:.1f}" height="{_BAR - 2:g}"/>'
            )
            inner.append(_words(text, wide + 8, y + _BAR - 5))
            y += _BAR
        y += 16
    return _svg(inner, high=high, title=title, about=about)


def course_chart(
    points: Sequence[Point],
    *,
    level: float | None,
    level_label: str,
    marks: Sequence[Mark],
    title: str,
    about: str,
) -> SafeString:
    """The band and the mean over the days, a level across, and days that are marked.

    Args:
        points: Two or more, in order.
        level: A line across, if any.
        level_label: What stands on it.
        marks: Days within those of the points.
        title: For who cannot see it.
        about: What it shows, likewise.
    """
    first, days = points[0].on, max(1, (points[-1].on - points[0].on).days)
    most = max([*(each.high for each in points), level or 0.0, 1e-9])
    least = min(0.0, *(each.mean for each in points))
    step = _tick(most - least)
    top, bottom = math.ceil(most / step) * step, math.floor(least / step) * step

    def x(on: date) -> float:
        return _LEFT + (on - first).days / days * (_WIDTH - _LEFT - _RIGHT)

    def y(amount: float) -> float:
        amount = min(top, max(bottom, amount))
        return _TOP + (top - amount) / (top - bottom) * (_HEIGHT - _TOP - _FLOOR)

    inner = []
    for number in range(round((top - bottom) / step) + 1):
        at = bottom + number * step
        inner.append(f'<path class="grid" d="M{_LEFT:g} {y(at):.1f}H{_WIDTH - _RIGHT:g}"/>')
        inner.append(_words(_short(at), _LEFT - 8, y(at) + 5, anchor="end"))
    for day in _days(days):
        on = first + timedelta(days=day)
        inner.append(_words(f"{on:%m-%d}", x(on), _HEIGHT - 8, anchor="middle"))
    up = " ".join(f"{x(each.on):.1f},{y(each.high):.1f}" for each in points)
    down = " ".join(f"{x(each.on):.1f},{y(each.low):.1f}" for each in reversed(points))
    inner.append(f'<polygon class="band" points="{up} {down}"/>')
    line = " ".join(f"{x(each.on):.1f},{y(each.mean):.1f}" for each in points)
    inner.append(f'<polyline class="mean" points="{line}"/>')
    if level is not None:
        inner.append(f'<path class="level" d="M{_LEFT:g} {y(level):.1f}H{_WIDTH - _RIGHT:g}"/>')
        inner.append(_words(level_label, _WIDTH - _RIGHT, y(level) - 6, anchor="end"))
    for row, mark in enumerate(marks):
        inner.append(f'<path class="day" d="M{x(mark.on):.1f} {_TOP:g}V{_HEIGHT - _FLOOR:g}"/>')
        is_late = x(mark.on) > _WIDTH * 0.7
        anchor, off = ("end", -6) if is_late else ("start", 6)
        inner.append(
            _words(mark.label, x(mark.on) + off, _TOP + 12 + 17 * (row % 3), anchor=anchor)
        )
    return _svg(inner, high=_HEIGHT, title=title, about=about)


def _tick(span: float) -> float:
    """A round distance that gives about five lines."""
    rough = span / _TICKS
    power = 10.0 ** math.floor(math.log10(rough))
    return next(each * power for each in _NICE if each * power >= rough)


def _short(number: float) -> str:
    """A number of an axis."""
    return f"{number:,.10g}"


def _days(days: int) -> Iterator[int]:
    """Days with a label, evenly apart."""
    gap = next((each for each in _DAY_GAPS if days / each <= _DAY_LABELS), _DAY_GAPS[-1])
    yield from range(0, days + 1, gap)


def _words(text: str, x: float, y: float, *, anchor: str = "start", kind: str = "") -> str:
    named = f' class="{kind}"' if kind else ""
    return (
        f'<text{named} x="{x:.1f}" y="{y:.1f}" font-size="{_TEXT:g}" text-anchor="{anchor}">'
        f"{escape(text)}</text>"
    )


def _svg(inner: Sequence[str], *, high: float, title: str, about: str) -> SafeString:
    body = "".join(inner)
    return mark_safe(  # noqa: S308 - every text in it was escaped
        f'<svg class="chart" viewBox="0 0 {_WIDTH:g} {high:g}" role="img" '
        f'aria-label="{escape(f"{title}. {about}")}">{body}</svg>'
    )
