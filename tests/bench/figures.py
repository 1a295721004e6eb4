"""What a bench measures: a figure, its goal, and whether it was reached."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from statistics import median
from typing import NamedTuple


class Figure(NamedTuple):
    """One thing measured beside the same work done bare, in the same run.

    Attributes:
        what: What was done, in words.
        ours: What it cost us, in `unit`.
        bare: What the bare driver needed for the same, or what it is held against; same `unit`.
        goal: The least `ratio` that is good enough; 1 is as fast as bare. 0: there is none.
        unit: Of both, `s` (seconds) if nothing is said.
    """

    what: str
    ours: float
    bare: float
    goal: float
    unit: str = "s"

    @property
    def ratio(self) -> float:
        """Bare to ours: 1 is as fast as bare, 0.5 takes twice as long."""
        return self.bare / self.ours if self.ours else float("inf")

    @property
    def is_reached(self) -> bool:
        """Whether the goal is."""
        return self.ratio >= self.goal


HEAD = ("what", "ours", "bare", "ratio", "goal", "reached")


def table_of(figures: Iterable[Figure]) -> str:
    """The figures as a Markdown table."""
    rows = [HEAD, *(_cells(figure) for figure in figures)]
    widths = [max(len(row[n]) for row in rows) for n in range(len(HEAD))]
    lines = [
        "| " + " | ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) + " |"
        for row in rows
    ]
    return "\n".join([lines[0], "|" + "|".join("-" * (w + 2) for w in widths) + "|", *lines[1:]])


def seconds(work: Callable[[], object], *, times: int = 5) -> float:
    """Seconds that `work` takes: the median of some runs, after one that is not counted."""
    work()
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return median(taken)


def _cells(figure: Figure) -> tuple[str, ...]:
    return (
        figure.what,
        _amount(figure.ours, figure.unit),
        _amount(figure.bare, figure.unit),
        f"{figure.ratio:.2f}",
        f"{figure.goal:g}" if figure.goal else "none",
        ("yes" if figure.is_reached else "NO") if figure.goal else "",
    )


def _amount(number: float, unit: str) -> str:
    if unit == "s" and number < 1:
        return f"{number * 1000:.3g} ms"
    return f"{number:.4g} {unit}"
