"""What is wrong in a sheet: where, what stands there, and what would be right."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

PROBLEMS_SHOWN_MAX: Final = 100
_VALUE_LENGTH_MAX: Final = 60


class Problem(NamedTuple):
    """One wrong cell, row or file.

    Attributes:
        file: What a person finds the sheet by: `items.csv`, `shop.xlsx (items)`; empty when it is
            about all of them.
        row: As a spreadsheet numbers it, the header being 1; 0 when the file as a whole is wrong.
        column: The column's name; empty when the row as a whole is wrong.
        value: What stands there.
        advice: What would be right.
    """

    file: str
    row: int
    column: str
    value: str
    advice: str

    def facts(self) -> dict[str, object]:
        """The same for a program; what stands there is `found`."""
        return {
            "file": self.file,
            "row": self.row,
            "column": self.column,
            "found": shortened(self.value),
            "advice": self.advice,
        }

    def __str__(self) -> str:
        """Like this: items.csv row 7, unit “kilo”: There is no such unit."""
        where = f"{self.file} row {self.row}" if self.row else self.file
        if self.column:
            where += f", {self.column}"
        if self.value:
            where += f" “{shortened(self.value)}”"
        return f"{where}: {self.advice}" if where else self.advice


def shortened(value: str) -> str:
    """A cell's text in one line, cut where it is long."""
    line = " ".join(value.split())
    return line if len(line) <= _VALUE_LENGTH_MAX else f"{line[:_VALUE_LENGTH_MAX]}..."


def counted_lines(problems: Sequence[Problem]) -> list[str]:
    """A line a problem; past `PROBLEMS_SHOWN_MAX` the rest is counted."""
    lines = [str(problem) for problem in problems[:PROBLEMS_SHOWN_MAX]]
    if more := len(problems) - len(lines):
        lines.append(f"and {more} more")
    return lines
