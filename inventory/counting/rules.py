"""Arithmetic of counting: classes, when each item's turn is, and whether a record was right."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from fractions import Fraction
from types import MappingProxyType
from typing import Final, Literal, NamedTuple

Class = Literal["A", "B", "C"]
CLASSES: Final[tuple[Class, ...]] = ("A", "B", "C")

SHARE_MAX: Final[Mapping[Class, Fraction]] = MappingProxyType(
    {"A": Fraction(80, 100), "B": Fraction(95, 100), "C": Fraction(1)}
)
"""Cumulative share of the value used up to which an item is of a class; common practice, no
source."""

WORKING_DAYS: Final[Mapping[Class, int]] = MappingProxyType({"A": 20, "B": 60, "C": 120})
"""Working days within which an item is counted again: a month, a quarter, half a year.

Source: the example of J. Heizer and B. Render, Operations Management, ch. 12, from memory.
"""

TOLERANCE: Final[Mapping[Class, Fraction]] = MappingProxyType(
    {"A": Fraction(2, 1000), "B": Fraction(1, 100), "C": Fraction(5, 100)}
)
"""How far a count may be from the record, as a share of the record.

Source: as quoted in W. J. Stevenson, Operations Management, Inventory Management, from memory.
"""

WORKING_DAYS_A_WEEK: Final = 5


class Turn(NamedTuple):
    """An item that is to be counted.

    Attributes:
        due_on: Not before that day; None: it was never counted, and comes first.
    """

    item: int
    abc: Class
    due_on: date | None


def classes(value_used: Mapping[int, int]) -> dict[int, Class]:
    """The class of each item by its value used, 0 and more, in any one unit.

    Falling by value, an item is of class A while all up to it are at most 80 % of the whole, then B
    to 95 %, then C. The first is A whatever its share; what was not used at all is C.
    """
    whole = sum(value_used.values())
    found: dict[int, Class] = {}
    so_far = 0
    for item, value in sorted(value_used.items(), key=lambda pair: (-pair[1], pair[0])):
        so_far += value
        is_first = not found and value > 0
        found[item] = "A" if is_first else _class(so_far, whole) if value else "C"
    return found


def a_day(counts: Mapping[Class, int]) -> dict[Class, Fraction]:
    """Items of each class to count on a working day, to be through in time."""
    return {abc: Fraction(counts.get(abc, 0), days) for abc, days in WORKING_DAYS.items()}


def due_on(since_on: date, abc: Class) -> date:
    """The day an item is due, so many working days after it was last looked at."""
    weeks, days = divmod(WORKING_DAYS[abc], WORKING_DAYS_A_WEEK)
    day = working_day(since_on) + timedelta(weeks=weeks)
    for _ in range(days):
        day = working_day(day + timedelta(days=1))
    return day


def calendar(turns: Iterable[Turn], *, today: date) -> dict[int, date]:
    """The working day on which each item is to be counted, from today on.

    No more a day than it takes to be through in time: what was never counted first, then what is
    overdue the longest, A before B before C. So a shop that begins to count is not told to count
    everything today.
    """
    waiting = sorted(turns, key=_first)
    most = math.ceil(sum(a_day(Counter(turn.abc for turn in waiting)).values()))
    planned: dict[int, date] = {}
    on_day: Counter[date] = Counter()
    free_from = working_day(today)
    for turn in waiting:
        day = max(free_from, working_day(turn.due_on or today))
        while on_day[day] >= most:
            day = working_day(day + timedelta(days=1))
        planned[turn.item] = day
        on_day[day] += 1
        while on_day[free_from] >= most:
            free_from = working_day(free_from + timedelta(days=1))
    return planned


def is_right(*, expected_base: int, found_base: int, abc: Class) -> bool:
    """Whether a count is within the tolerance of its item's class."""
    return abs(found_base - expected_base) <= TOLERANCE[abc] * expected_base


def accuracy(hits: Sequence[bool]) -> Fraction | None:
    """Share of records that were right, 0 to 1; None where nothing was counted."""
    return Fraction(sum(hits), len(hits)) if hits else None


def working_day(day: date) -> date:
    """The day, or the Monday after if it is a Saturday or a Sunday."""
    beyond = day.weekday() - WORKING_DAYS_A_WEEK
    return day if beyond < 0 else day + timedelta(days=7 - WORKING_DAYS_A_WEEK - beyond)


def _class(so_far: int, whole: int) -> Class:
    return next(abc for abc in CLASSES if so_far <= SHARE_MAX[abc] * whole)


def _first(turn: Turn) -> tuple[bool, date, Class, int]:
    return turn.due_on is not None, turn.due_on or date.min, turn.abc, turn.item
