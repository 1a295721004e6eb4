"""Six digits and the year they are read in make a day."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.codes.gs1.dates import gs1_date, is_day


# GS1 General Specifications, section 7.12: at most 49 years back and 50 ahead.
@pytest.mark.parametrize(
    ("yymmdd", "reference_year", "year"),
    [
        ("760101", 2026, 2076),
        ("770101", 2026, 1977),
        ("260101", 2026, 2026),
        ("000101", 2026, 2000),
        ("990101", 2049, 2099),
        ("990101", 2048, 1999),
        ("000101", 2049, 2000),
        ("450101", 1994, 1945),
        ("440101", 1994, 2044),
    ],
)
def test_a_day_is_at_most_49_years_back_and_50_ahead(
    yymmdd: str, reference_year: int, year: int
) -> None:
    assert gs1_date(yymmdd, reference_year=reference_year) == date(year, 1, 1)


@given(year=st.integers(1977, 2076), month=st.integers(1, 12))
def test_day_00_is_the_last_of_its_month(year: int, month: int) -> None:
    last = gs1_date(f"{year % 100:02d}{month:02d}00", reference_year=2026)
    assert (last.year, last.month) == (year, month)
    assert (last.toordinal() + 1) == date(year + month // 12, month % 12 + 1, 1).toordinal()


@given(day=st.dates(date(1977, 1, 1), date(2076, 12, 31)))
def test_every_day_comes_back(day: date) -> None:
    text = day.strftime("%y%m%d")
    assert is_day(text, with_day_00=False)
    assert gs1_date(text, reference_year=2026) == day


@pytest.mark.parametrize("yymmdd", ["260001", "261301", "260132", "260431", "270229", "260100"])
def test_what_no_calendar_has_is_no_day(yymmdd: str) -> None:
    assert not is_day(yymmdd, with_day_00=False)
