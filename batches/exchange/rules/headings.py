"""Which column of ours each heading of a sheet stands for, and which nobody knows."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from typing import Final

from batches.exchange.rules.problems import Problem
from batches.exchange.rules.sheets import Column, Sheet
from batches.exchange.rules.tables import Line, text_of
from batches.exchange.rules.writing import heading_key

_SHOWN_LENGTH: Final = 60
_LOOKED_AT: Final = 10  # rows above which a sheet may have a title and a date
_HEADINGS_MIN: Final = 2


def columns_of(
    sheet: Sheet, label: str, header: Line, said: Mapping[tuple[str, str], str]
) -> tuple[list[Column | None], list[Problem]]:
    """The column of each cell; None where the header says nothing that is known.

    Args:
        sheet: What it is.
        label: What a person finds it by.
        header: Its first filled row.
        said: What headings stand for, as `Writing.headings`.
    """
    known = {column.name: column for column in sheet.columns}
    columns: list[Column | None] = []
    problems = []
    for place, cell in enumerate(header.cells, 1):
        heading = text_of(cell)
        key = heading_key(heading)
        name = said.get((sheet.name, key), key)
        column = known.get(name)
        if column is not None and column in columns:
            advice = f"The column {name} stands twice."
            problems.append(Problem(label, header.number, "", heading, advice))
        elif not heading:
            advice = f"Column {place} has no name. Name it or take it out."
            problems.append(Problem(label, header.number, "", "", advice))
        elif column is None and (sheet.name, key) not in said:
            advice = f"The sheet has no such column.{_meant(sheet, heading, known)}"
            problems.append(Problem(label, header.number, "", heading, advice))
        columns.append(column)
    missing = [each.name for each in sheet.columns if each.required and each not in columns]
    problems += [
        Problem(label, header.number, "", "", f"The column {name} is missing; it must be there.")
        for name in missing
    ]
    return columns, problems


def header_below(sheet: Sheet, lines: Sequence[Line], said: Mapping[tuple[str, str], str]) -> int:
    """The row in which the header seems to stand, if it is not the first filled one; else 0."""

    def known(line: Line) -> int:
        keys = {heading_key(text_of(cell)) for cell in line.cells}
        return sum(sheet.has_column(key) or (sheet.name, key) in said for key in keys)

    first, *below = lines[:_LOOKED_AT]
    if known(first):
        return 0
    return next((line.number for line in below if known(line) >= _HEADINGS_MIN), 0)


def explanation(column: Column) -> str:
    """What stands below a heading of a template: how its cells are written, and what for."""
    must = "must be filled; " if column.required else ""
    return f"{must}{column.about}: {column.kind.words.replace('`', '')}"


def _meant(sheet: Sheet, heading: str, known: Mapping[str, Column]) -> str:
    close = difflib.get_close_matches(heading_key(heading), known, n=1)
    named = f"Did you mean {close[0]}?" if close else f"There are: {', '.join(known)}."
    target = close[0] if close else "COLUMN"
    pair = f"{sheet.name}:{heading[:_SHOWN_LENGTH]}="
    return f' {named} Say --heading "{pair}{target}", or "{pair}" to leave it out.'
