"""Reports: facts, words and tables in sections, on as many pages as they take."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from batches.labels.rules.papers import BoxLabel, LotLabel, Paper
from batches.quality.rules.drawing import Drawing


class Heading(NamedTuple):
    """The head of a column.

    Attributes:
        words: What stands over it.
        share: Of the width; those of a table add up to 1.
        is_right: Whether its cells end at the right: numbers.
    """

    words: str
    share: float
    is_right: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows of cells; a long cell takes several lines.

    Attributes:
        headings: Of the columns.
        rows: As many cells each.
        nothing: What to say where there is no row.
    """

    headings: tuple[Heading, ...]
    rows: tuple[tuple[str, ...], ...]
    nothing: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A part of a report: its title, words, a drawing, a table, and stickers as they look.

    Attributes:
        specimens: Each is drawn in a frame.
    """

    title: str
    words: tuple[str, ...] = ()
    drawing: Drawing | None = None
    table: Table | None = None
    specimens: tuple[LotLabel | BoxLabel, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Report(Paper):
    """A paper that somebody reads alone; `code` is that of what it is about.

    Attributes:
        title: Of the whole, the code in it.
        facts: What stands beside the symbol: name and value, at most eight.
        sections: In order.
    """

    title: str
    facts: tuple[tuple[str, str], ...]
    sections: tuple[Section, ...]
