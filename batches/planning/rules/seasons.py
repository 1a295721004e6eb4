"""How orders and what left eat up the plan they were planned in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

WEEKS_BACK: Final = 4
WEEKS_AHEAD: Final = 4
"""An order of a week is looked for in its own week of the plan, then in so many before it, then in
so many after it. The way is common practice, and so are four weeks; no source."""


def left_of_plan(planned: Mapping[int, int], taken: Mapping[int, int]) -> dict[int, int]:
    """Pieces of a plan that nobody ordered or took yet, by week; weeks of none are left out.

    Args:
        planned: Pieces by week.
        taken: Pieces ordered, by the week promised, and pieces that left, by theirs.
    """
    left = dict(planned)
    for week, pieces in sorted(taken.items()):
        rest = pieces
        back = range(week, week - WEEKS_BACK - 1, -1)
        for each in (*back, *range(week + 1, week + WEEKS_AHEAD + 1)):
            part = min(rest, left.get(each, 0))
            if part:
                left[each] -= part
                rest -= part
    return {week: pieces for week, pieces in sorted(left.items()) if pieces}
