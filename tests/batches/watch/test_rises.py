"""The rule that sees a rise: against scipy's Poisson counts, its theorem, and made-up shops."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2, poisson

from batches.watch.rules.rises import ODDS_MIN, RATIOS, Tested, rise_of
from batches.watch.rules.wording import Seen, seen_sentence

RULE_OF_THREE = 2.9957
"""None of n failed: the rate is below this over n in 19 of 20 cases (Hanley, Lippman-Hand 1983)."""


def test_one_bad_test_after_a_thousand_good_pieces() -> None:
    """By hand: the rate may be 3 in 1,000, so of 50 pieces 0.15 fail; five did."""
    usual = RULE_OF_THREE / 1000 * 50
    rise = rise_of([Tested(1000, 0), Tested(50, 5)])
    likely = [poisson.pmf(5, ratio * usual) / poisson.pmf(5, usual) for ratio in RATIOS]
    assert rise.odds == pytest.approx(sum(likely) / len(likely), rel=1e-3)
    assert (rise.since, rise.is_seen) == (1, True)


def test_nothing_is_usual_before_anything_was_tested() -> None:
    rise = rise_of([Tested(50, 50)])
    assert (rise.odds, rise.is_seen) == (0.0, False)


def test_a_rise_may_not_begin_before_the_first_that_is_looked_at() -> None:
    tests = [Tested(1000, 0), Tested(50, 5), Tested(50, 0)]
    assert rise_of(tests).is_seen
    assert not rise_of(tests, first=2).is_seen


def test_lots_that_always_differed_are_no_rise() -> None:
    """Every fifth lot fails by a tenth, and has always done so: one more is no news."""
    unlike = [Tested(50, 5 if number % 5 == 4 else 0) for number in range(60)]
    alike = [Tested(50, 1) for _ in range(60)]
    assert not rise_of(unlike).is_seen
    assert not rise_of([*unlike, Tested(50, 5)]).is_seen
    assert rise_of([*alike, Tested(50, 5), Tested(50, 5), Tested(50, 5)]).is_seen


def _odds_expected_after(tests: Sequence[Tested], pieces: int, rate: float) -> float:
    """The odds after one more test, on average over what it may find."""
    counts = range(int(poisson.isf(1e-12, rate * pieces)) + 2)
    chances = poisson.pmf(list(counts), rate * pieces)
    odds = [rise_of([*tests, Tested(pieces, count)]).odds for count in counts]
    return float(np.dot(chances, odds))


@given(
    st.lists(st.tuples(st.integers(20, 200), st.integers(0, 1)), min_size=1, max_size=8),
    st.integers(20, 200),
)
def test_while_nothing_changes_the_odds_grow_by_at_most_one_a_test(
    past: list[tuple[int, int]], pieces: int
) -> None:
    """What the theorem stands on: it bounds how often a rise is seen by mistake.

    The rate is the least of the bounds, each as of the chi-squared table (Garwood 1936).
    """
    tests = [Tested(size, failed) for size, failed in past]
    sums = [(sum(t.pieces for t in tests[:n]), sum(t.failed for t in tests[:n]))
            for n in range(1, len(tests) + 1)]  # fmt: skip
    rate = min(chi2.isf(0.05, 2 * (failed + 1)) / 2 / size for size, failed in sums)
    assert _odds_expected_after(tests, pieces, rate) <= rise_of(tests).odds + 1 + 1e-6


def _tests(rng: np.random.Generator, rate: float, count: int) -> list[Tested]:
    sizes = rng.integers(20, 81, count)
    return [
        Tested(int(n), int(bad)) for n, bad in zip(sizes, rng.binomial(sizes, rate), strict=True)
    ]


def _seen_at(tests: Sequence[Tested]) -> int | None:
    """The number of tests after which a rise is seen."""
    for count in range(2, len(tests) + 1):
        if tests[count - 1].failed and rise_of(tests[:count]).is_seen:
            return count
    return None


def test_forty_shops_in_which_nothing_changes_have_hardly_an_alert() -> None:
    """So many tests may have `40 * 150 / ODDS_MIN` of them by the theorem."""
    rng = np.random.default_rng(7)
    seen = [_seen_at(_tests(rng, 0.005, 150)) for _ in range(40)]
    assert sum(each is not None for each in seen) <= 40 * 150 / ODDS_MIN


def test_a_rise_from_half_a_percent_to_eight_is_seen_in_a_few_tests() -> None:
    rng = np.random.default_rng(8)
    took = []
    for _ in range(20):
        seen = _seen_at(_tests(rng, 0.005, 40) + _tests(rng, 0.08, 10))
        assert seen is not None
        took.append(seen - 40)
    assert min(took) >= 1
    assert float(np.median(took)) <= 4


def test_certainty_is_a_number() -> None:
    assert math.isfinite(rise_of([Tested(10_000, 0), Tested(10_000, 10_000)]).odds)


def test_what_was_seen_is_said_with_its_shares() -> None:
    day = np.datetime64("2026-03-05").astype(object)
    assert seen_sentence(Seen("DUNK", day, 240, 12, 2400, 6)) == (
        "Since 2026-03-05 12 of 240 pieces failed check DUNK (5.00%); before, 6 of 2,400 pieces "
        "failed check DUNK (0.25%)."
    )
    assert seen_sentence(Seen("", day, 500, 1, 0, 0)) == (
        "Since 2026-03-05 1 complaint came while 500 pieces left; before, 0 complaints came while "
        "0 pieces left."
    )
