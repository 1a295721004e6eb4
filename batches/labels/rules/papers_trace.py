"""What the paper of a trace says: the drawing, what became of it, and every edge."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from batches.trace.rules.drawing import Drawing


class TracedTotal(NamedTuple):
    """What became of an item in one way; all as people read it."""

    item: str
    became: str
    amount: str
    by_share: str
    up_to: str


class TracedEdge(NamedTuple):
    """A lot that went into another; all as people read it."""

    at: str
    by: str
    taken_lot: str
    taken: str
    made_lot: str
    made: str
    up_to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TracePaper:
    """A trace.

    Attributes:
        title: What was asked.
        as_of: When it was read.
        drawing: Laid out.
        totals: Downstream only.
        edges: All of them, oldest first.
    """

    title: str
    as_of: str
    drawing: Drawing
    totals: tuple[TracedTotal, ...]
    edges: tuple[TracedEdge, ...]
