"""Wrong sheets in their own grid, under the headings that the shop has kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from batches.exchange.rules.grids import Grid, grids_of
from batches.exchange.rules.writing import Writing
from batches.exchange.selectors.imported import kept_headings


def wrong_grids(
    files: Mapping[str, bytes], problems: Sequence[Mapping[str, Any]], writing: Writing
) -> list[Grid]:
    """The rows that something is wrong with, as they stand in the files. One statement."""
    headings = {**kept_headings(), **writing.headings}
    return grids_of(files, problems, replace(writing, headings=headings))
