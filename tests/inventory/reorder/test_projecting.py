"""Stock ahead: what comes, what is used, how far off that may be."""

from __future__ import annotations

from dataclasses import replace

import pytest

from inventory.reorder.rules import Spread, horizon, projected
from inventory.reorder.rules.forecast import Forecast, steady
from inventory.reorder.rules.projecting import DAYS_MAX, DAYS_MIN, POINTS_MAX


def certain_mean(use: Spread) -> Forecast:
    """The same every day, of a mean that is known."""
    return replace(steady(use, 365), drift=0.0)


STEADY = certain_mean(Spread(10.0, 0.0))


def test_a_steady_use_and_an_arrival_are_added_up_to_the_day() -> None:
    course = projected(on_hand_base=100, forecast=STEADY, arrivals={5: 50}, days=12)
    by_day = {each.days: each.mean_base for each in course}
    assert [by_day[day] for day in (0, 4, 5, 12)] == [100, 60, 100, 30]
    assert all(each.low_base == each.mean_base == each.high_base for each in course)


def test_what_is_short_is_owed() -> None:
    assert projected(on_hand_base=5, forecast=STEADY, arrivals={}, days=2)[-1].mean_base == -15


def test_nine_of_ten_days_lie_within_the_band() -> None:
    # Normal quantile 1.645 at 0.95: NIST/SEMATECH e-Handbook, 1.3.6.7.1 (from memory).
    course = projected(
        on_hand_base=100_000, forecast=certain_mean(Spread(10, 100)), arrivals={}, days=100
    )
    last = course[-1]
    assert last.mean_base == 99_000
    assert last.low_base == pytest.approx(99_000 - 1645, abs=2)
    assert last.high_base == 100_000  # nothing comes back


def test_a_long_course_stays_drawable_and_keeps_the_day_of_an_arrival() -> None:
    course = projected(on_hand_base=1, forecast=STEADY, arrivals={7: 1, 401: 9}, days=366)
    assert len(course) <= POINTS_MAX + 2
    assert {0, 7, 366} <= {each.days for each in course}
    assert 401 not in {each.days for each in course}


@pytest.mark.parametrize(
    ("lead_days", "arrivals", "days"),
    [(2.0, {}, DAYS_MIN), (70.0, {}, 116), (2.0, {90: 1}, 91), (900.0, {}, DAYS_MAX)],
)
def test_the_horizon_reaches_past_what_is_ordered_today_and_what_comes(
    lead_days: float, arrivals: dict[int, int], days: int
) -> None:
    assert horizon(lead_days=lead_days, review_days=7, arrivals=arrivals) == days
