"""Forecasts: which method is chosen, what it says, and that it never looks ahead."""

import numpy as np
import numpy.typing as npt
import pytest

from inventory.reorder.rules import Method, Pattern, forecasts, weekly
from inventory.reorder.rules.demand import Spread
from inventory.reorder.rules.forecast import steady
from inventory.reorder.rules.methods import SEASONAL
from inventory.reorder.rules.outlook import chance_above
from inventory.reorder.rules.pattern import patterns

pytestmark = pytest.mark.only_on("sqlite")  # no database has a part in it: once is enough

Floats = npt.NDArray[np.float64]

WEEKS = np.arange(104.0)
SEASON = 1 + 0.6 * np.cos(2 * np.pi * WEEKS / (365.25 / 7))


def drawn(mean: Floats, rows: int = 8) -> Floats:
    return np.random.default_rng(3).poisson(mean, (rows, len(mean))).astype(float)


def test_weeks_end_with_yesterday_and_the_oldest_days_are_left_out() -> None:
    use = np.arange(1, 17, dtype=np.int64)[None, :]
    assert weekly(use).tolist() == [[sum(range(3, 10)), sum(range(10, 17))]]


def test_a_season_is_found_in_two_years_and_carried_on() -> None:
    found = forecasts(drawn(300 * SEASON), np.full(8, 10.0))
    assert set(found.methods) <= set(SEASONAL)
    ahead = 300 * (1 + 0.6 * np.cos(2 * np.pi * (104 + np.arange(26)) / (365.25 / 7)))
    assert found.per_week[:, :26].mean(axis=0) == pytest.approx(ahead, rel=0.1)


def test_a_season_is_not_looked_for_in_less_than_two_years() -> None:
    found = forecasts(drawn(300 * SEASON)[:, :103], np.full(8, 10.0))
    assert not set(found.methods) & set(SEASONAL)


def test_no_season_and_no_trend_are_seen_in_chance() -> None:
    found = forecasts(drawn(np.full(104, 50.0), 100), np.full(100, 6.0))
    plain = {Method.MEAN, Method.YEAR, Method.SLOW, Method.CROSTON}
    assert sum(each in plain for each in found.methods) >= 90
    assert found.per_week.mean() == pytest.approx(50, rel=0.03)
    assert found.lump.mean() == pytest.approx(1, rel=0.1)


def test_what_grew_to_twice_is_not_forecast_at_its_old_mean() -> None:
    found = forecasts(drawn(np.where(WEEKS < 60, 50.0, 100.0)), np.full(8, 6.0))
    assert found.per_week[:, 0] == pytest.approx(100, rel=0.15)


def test_the_method_is_chosen_by_what_came_after_and_not_by_what_it_was_made_of() -> None:
    # The last weeks say nothing of how a method does before them: only forecasts made earlier are
    # held against them, so what comes after the last origin's horizon changes no choice.
    use = drawn(np.full(104, 50.0))
    longer = forecasts(use, np.full(8, 52.0))
    assert longer.origins == 1


def test_seldom_used_things_get_no_waves_of_nothing() -> None:
    rng = np.random.default_rng(4)
    use = np.where(rng.random((50, 104)) < 0.2, rng.integers(1, 60, (50, 104)), 0).astype(float)
    found = forecasts(use, np.full(50, 6.0))
    assert set(found.methods) <= {Method.MEAN, Method.YEAR, Method.CROSTON}
    assert set(found.patterns) <= {Pattern.INTERMITTENT, Pattern.LUMPY}


@pytest.mark.parametrize(
    ("use", "pattern"),
    [
        ([5, 5, 5, 5], Pattern.SMOOTH),
        ([1, 9, 1, 9], Pattern.ERRATIC),
        ([5, 0, 5, 0], Pattern.INTERMITTENT),
        ([1, 0, 9, 0], Pattern.LUMPY),
        # 33 periods over 25 uses are 1.32, the cut-off itself.
        ([5] * 25 + [0] * 8, Pattern.INTERMITTENT),
        ([5] * 26 + [0] * 8, Pattern.SMOOTH),
        # Sizes 3 and 17 about 10: variation 0.49, the cut-off itself.
        ([3, 17], Pattern.ERRATIC),
        ([3, 16], Pattern.SMOOTH),
        ([0, 0], Pattern.INTERMITTENT),
    ],
)
def test_patterns_by_interval_and_variation(use: list[int], pattern: Pattern) -> None:
    assert patterns(np.array([use], dtype=float)) == [pattern]


# What follows of a forecast


def test_days_that_an_amount_lasts_are_those_in_which_it_is_used() -> None:
    forecast = forecasts(drawn(300 * SEASON), np.full(8, 10.0)).of(0)
    for days in (1.0, 7.0, 100.5, 727.0, 900.0):
        assert forecast.days_of(forecast.mean_over(days)) == pytest.approx(days, rel=1e-9)


def test_the_mean_of_a_short_history_is_uncertain_and_spreads_with_the_time_ahead() -> None:
    found = steady(Spread(10.0, 5.0), 28).over(28)
    assert found == pytest.approx((280.0, 5 * np.sqrt(28 * 2)))


def test_the_chance_of_running_out_is_that_of_the_distribution() -> None:
    assert chance_above(Spread(2.0, np.sqrt(2.0)), 2) == pytest.approx(1 - 5 * np.exp(-2))
    assert chance_above(Spread(100.0, 100.0), 100) == pytest.approx(np.exp(-1))
    assert chance_above(Spread(100.0, 10.0), -1) == 1
    assert chance_above(Spread(100.0, 0.0), 99) == 1
    assert chance_above(Spread(100.0, 0.0), 100) == 0
