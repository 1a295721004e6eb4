"""Thin lines and cards of a drawing, on a sheet; in points from its upper left corner."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

from reportlab.pdfgen.canvas import Canvas


class Strokes:
    """Draws on a canvas.

    Args:
        canvas: Of the page.
        x: From the left of the sheet to the place on the page.
        y: From its top likewise.
    """

    def __init__(
        self, canvas: Canvas, x: Callable[[float], float], y: Callable[[float], float]
    ) -> None:
        self._canvas, self._x, self._y = canvas, x, y

    @contextmanager
    def within(self, left: float, top: float, width: float, height: float) -> Iterator[None]:
        """Draw nothing outside a rectangle."""
        self._canvas.saveState()
        path = self._canvas.beginPath()
        path.rect(self._x(left), self._y(top + height), width, height)
        self._canvas.clipPath(path, stroke=0, fill=0)
        yield
        self._canvas.restoreState()

    def curve(self, points: Sequence[tuple[float, float]]) -> None:
        """Draw a thin line, bent from the first to the second point, straight to the third, ..."""
        (x, y), *others = [(self._x(left), self._y(top)) for left, top in points]
        path = self._canvas.beginPath()
        path.moveTo(x, y)
        for number, (to_x, to_y) in enumerate(others):
            if number % 2:
                path.lineTo(to_x, to_y)
            else:
                middle = (x + to_x) / 2
                path.curveTo(middle, y, middle, to_y, to_x, to_y)
            x, y = to_x, to_y
        self._canvas.setLineWidth(0.6)
        self._canvas.setStrokeGray(0.35)
        self._canvas.drawPath(path, stroke=1, fill=0)

    def line(
        self,
        places: Sequence[tuple[float, float]],
        *,
        gray: float,
        thick: float,
        dashes: tuple[float, ...] = (),
    ) -> None:
        """Draw a line from place to place."""
        path = self._canvas.beginPath()
        path.moveTo(self._x(places[0][0]), self._y(places[0][1]))
        for left, top in places[1:]:
            path.lineTo(self._x(left), self._y(top))
        self._canvas.setLineWidth(thick)
        self._canvas.setStrokeGray(gray)
        self._canvas.setDash(dashes)
        self._canvas.drawPath(path, stroke=1, fill=0)
        self._canvas.setDash(())

    def dot(self, at: tuple[float, float], *, radius: float) -> None:
        """Draw a black dot."""
        self._canvas.setFillGray(0)
        self._canvas.circle(self._x(at[0]), self._y(at[1]), radius, stroke=0, fill=1)

    def card(
        self,
        at: tuple[float, float],
        *,
        width: float,
        height: float,
        radius: float,
        gray: float,
        thick: float,
    ) -> None:
        """Draw a rectangle with round corners, its ground in a gray."""
        self._canvas.setLineWidth(thick)
        self._canvas.setStrokeGray(0)
        self._canvas.setFillGray(gray)
        self._canvas.roundRect(
            self._x(at[0]), self._y(at[1] + height), width, height, radius, stroke=1, fill=1
        )
