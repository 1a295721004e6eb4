"""From cells as somebody wrote them to cells as our sheets write them, whatever the column."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from batches.exchange.rules.choosing import DAYS, NUMBERS, Choice, Chosen, Written, chosen
from batches.exchange.rules.kinds import Holds
from batches.exchange.rules.sheets import Column
from batches.exchange.rules.tables import Kept, Line, Typed
from batches.exchange.rules.writing import Writing

_DATES: Final = frozenset({Holds.DAY, Holds.MOMENT})
_MADE_OF_IT: Final[Mapping[Kept, str]] = {
    Kept.DAY: "a date",
    Kept.MOMENT: "a date",
    Kept.TIME: "a time of day",
}
_WHOLE_CELL: Final = re.compile(r"(?P<date>.+)", re.DOTALL)


class Plain(NamedTuple):
    """What a sheet says.

    Attributes:
        rows: The cells of each line as our sheets write them; none where it cannot be told how
            they are meant.
        how: What was told of them, in words.
        troubles: Row, column, what stands there, advice.
    """

    rows: list[list[str]]
    how: list[str]
    troubles: list[tuple[int, str, str, str]]


def plain_cells(lines: Sequence[Line], columns: Sequence[Column | None], writing: Writing) -> Plain:
    """Every cell of the lines, each as long as `columns`."""
    numbers = chosen(NUMBERS, _texts(lines, columns, _numbers_in), writing.decimals)
    dates = chosen(DAYS, _texts(lines, columns, _dates_in), writing.dates)
    plain = Plain([], [*_told(NUMBERS, numbers), *_told(DAYS, dates)], [])
    if troubles := numbers.troubles + dates.troubles:
        plain.troubles.extend((*each, advice) for each, advice in troubles)
        return plain
    readers = [_reader(column, numbers, dates) for column in columns]
    for line in lines:
        cells = []
        for cell, column, read in zip(line.cells, columns, readers, strict=True):
            if isinstance(cell, str):
                cells.append(read(cell) if cell else "")
                continue
            if column is not None and (advice := _misfit(cell, column)):
                plain.troubles.append((line.number, column.name, cell.text, advice))
            cells.append(_typed(cell, column))
        plain.rows.append(cells)
    return plain


def _numbers_in(column: Column) -> re.Pattern[str] | None:
    return column.kind.numbers


def _dates_in(column: Column) -> re.Pattern[str] | None:
    return _WHOLE_CELL if column.kind.holds in _DATES else None


def _texts(
    lines: Sequence[Line],
    columns: Sequence[Column | None],
    pattern_of: Callable[[Column], re.Pattern[str] | None],
) -> Iterator[Written]:
    for place, column in enumerate(columns):
        pattern = pattern_of(column) if column else None
        if column is None or pattern is None:
            continue
        for line in lines:
            cell = line.cells[place]
            if isinstance(cell, str) and not cell.isdigit():
                for found in pattern.finditer(cell):
                    yield Written(line.number, column.name, found[1])


def _reader(column: Column | None, numbers: Chosen, dates: Chosen) -> Callable[[str], str]:
    """What makes a text of the column one of ours."""
    if column is not None and (pattern := _numbers_in(column)):
        return _rewriting(NUMBERS, pattern, numbers.way)
    if column is not None and (pattern := _dates_in(column)):
        return _rewriting(DAYS, pattern, dates.way)
    return str


def _rewriting(choice: Choice, pattern: re.Pattern[str], way: str) -> Callable[[str], str]:
    way = way or choice.ways[0]  # where none is told, both are the same

    def rewritten(found: re.Match[str]) -> str:
        text = found[1]
        return found[0].removesuffix(text) + choice.readings(text).get(way, text)

    return lambda cell: pattern.sub(rewritten, cell)


def _told(choice: Choice, choosing: Chosen) -> list[str]:
    return [choice.words[choosing.way]] if choosing.way else []


def _misfit(cell: Typed, column: Column) -> str:
    """Why a spreadsheet's own cell cannot be what the column holds; empty if it can."""
    if cell.kept is Kept.WRONG:
        return cell.advice
    if cell.kept in _MADE_OF_IT and (cell.kept is Kept.TIME or column.kind.holds not in _DATES):
        return (
            f"The spreadsheet keeps it as {_MADE_OF_IT[cell.kept]}. Format the column as text and "
            "write it again."
        )
    return ""


def _typed(cell: Typed, column: Column | None) -> str:
    if column is not None and cell.kept is Kept.MOMENT and column.kind.holds is Holds.DAY:
        return cell.text.removesuffix(" 00:00")
    return cell.text
