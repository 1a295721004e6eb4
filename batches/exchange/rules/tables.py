"""What every kind of file comes to: rows of cells, before anybody knows what they mean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple


class Kept(StrEnum):
    """As what a spreadsheet keeps a cell that is not text."""

    NUMBER = "number"
    DAY = "day"
    MOMENT = "moment"
    TIME = "time"
    FLAG = "flag"
    WRONG = "wrong"


class Typed(NamedTuple):
    """A cell of a workbook that is not text.

    Attributes:
        kept: As what.
        text: The value as our sheets write it: a point, no thousands mark, year first.
        advice: Why it cannot be read at all, and what to do.
    """

    kept: Kept
    text: str
    advice: str = ""


Cell = str | Typed


class Line(NamedTuple):
    """A filled row.

    Attributes:
        number: As a spreadsheet numbers it, the first being 1.
        cells: Texts are trimmed.
    """

    number: int
    cells: Sequence[Cell]


@dataclass(slots=True)
class Table:
    """One sheet as it came.

    Attributes:
        file: The name of the file.
        tab: The name of the sheet in a workbook of several; empty where the file is the sheet.
        lines: The first is the header; rows with nothing in them are left out.
        how: How it was read, in words.
        troubles: What is wrong with it whatever it means: row, what stands there, advice.
    """

    file: str
    tab: str = ""
    lines: list[Line] = field(default_factory=list)
    how: list[str] = field(default_factory=list)
    troubles: list[tuple[int, str, str]] = field(default_factory=list)

    @property
    def label(self) -> str:
        """What a person finds it by."""
        return f"{self.file} ({self.tab})" if self.tab else self.file

    @property
    def name(self) -> str:
        """What says which sheet it is."""
        return self.tab or self.file.rpartition(".")[0]


class UnreadableError(Exception):
    """The file cannot be read, from this row on or (0) at all."""

    def __init__(self, advice: str, row: int = 0) -> None:
        super().__init__(advice)
        self.row = row


def text_of(cell: Cell) -> str:
    """What a person sees in it."""
    return cell if isinstance(cell, str) else cell.text


def without_empty_end(cells: Sequence[Cell]) -> Sequence[Cell]:
    """Up to the last filled one: spreadsheets write empty cells at the end of a row."""
    count = max((place for place, cell in enumerate(cells, 1) if cell), default=0)
    return cells[:count]
