"""Days in GS1 data: six digits YYMMDD, whose century depends on the year in which they are read."""

from __future__ import annotations

import calendar
from datetime import date
from typing import Final

_AHEAD_MAX: Final = 50
_BACK_MAX: Final = 49


def gs1_date(yymmdd: str, *, reference_year: int) -> date:
    """The day that six digits mean; day 00 is the last of its month.

    Args:
        yymmdd: Digits that passed `is_day`.
        reference_year: The present year: the date is at most 49 years before and 50 after it.

    Source: GS1 General Specifications, section 7.12, and the note on AI (17).
    """
    ahead = int(yymmdd[:2]) - reference_year % 100
    year = reference_year + ahead
    if ahead > _AHEAD_MAX:
        year -= 100
    elif ahead < -_BACK_MAX:
        year += 100
    month, day = int(yymmdd[2:4]), int(yymmdd[4:])
    return date(year, month, day or calendar.monthrange(year, month)[1])


def is_day(yymmdd: str, *, with_day_00: bool) -> bool:
    """Whether six digits can be a day, in whatever century.

    Every fourth year counts as a leap year: of those that end in 00, readers from 1950 to 2049 meet
    2000 alone, which is one.
    """
    year, month, day = (int(yymmdd[place : place + 2]) for place in (0, 2, 4))
    if not 1 <= month <= 12:  # noqa: PLR2004 - months
        return False
    return (0 if with_day_00 else 1) <= day <= calendar.monthrange(2000 + year, month)[1]
