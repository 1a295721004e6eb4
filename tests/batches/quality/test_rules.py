"""Arithmetic of checks where no published figure is: small lots, switching, rules that fire."""

from __future__ import annotations

import pytest

from batches.quality.rules.charts import Chart, ChartPoint, TooFewPointsError, individuals_charts
from batches.quality.rules.plans import (
    Outcome,
    Plan,
    fixed,
    is_failed,
    is_stopped,
    next_severity,
    sampled,
)
from batches.quality.rules.runs import RULES, fired

GOOD, BAD = Outcome(2, 3, 0), Outcome(2, 3, 3)


def chart_of(*distances: float, kind: str = "p") -> Chart:
    return Chart(kind, 0.0, [ChartPoint(each, -3.0, 3.0, 1.0) for each in distances])


def names_of(chart: Chart) -> list[tuple[str, int]]:
    return [(hit.rule, hit.last) for hit in fired(chart)]


def test_of_a_lot_smaller_than_its_sample_all_are_tested_and_none_may_fail() -> None:
    plan = sampled(lot_size=12, level="II", aql="4.0", severity="normal")
    assert (plan.size, plan.accept, plan.is_all) == (3, 0, False)
    assert sampled(lot_size=4, level="II", aql="10", severity="normal") == Plan(
        size=4, accept=0, reject=1, letter="C", severity="normal", is_all=True
    )


def test_a_fixed_number_is_never_more_than_the_lot_and_never_lets_all_fail() -> None:
    assert fixed(lot_size=100, size=5, accept=1) == Plan(5, 1, 2)
    assert fixed(lot_size=2, size=5, accept=3) == Plan(2, 1, 2, is_all=True)


def test_a_lot_fails_at_the_number_that_rejects() -> None:
    plan = sampled(lot_size=1000, level="II", aql="1.0", severity="reduced")
    assert (plan.size, plan.accept, plan.reject) == (32, 1, 3)
    assert not is_failed(plan, 2)
    assert is_failed(plan, 3)


def test_reduced_begins_at_thirty_points_and_only_where_it_may() -> None:
    assert next_severity("normal", [GOOD] * 9, may_reduce=True) == "normal"
    assert next_severity("normal", [GOOD] * 10, may_reduce=True) == "reduced"
    assert next_severity("normal", [GOOD] * 10, may_reduce=False) == "normal"
    marginal = Outcome(2, 3, 2, is_marginal=True)
    assert next_severity("normal", [marginal, *[GOOD] * 9], may_reduce=True) == "normal"


def test_plans_of_no_failing_piece_score_two_a_lot() -> None:
    small = Outcome(0, 1, 0)
    assert next_severity("normal", [small] * 14, may_reduce=True) == "normal"
    assert next_severity("normal", [small] * 15, may_reduce=True) == "reduced"


def test_reduced_ends_with_a_lot_between_accept_and_reject() -> None:
    assert next_severity("reduced", [Outcome(1, 3, 1)], may_reduce=True) == "reduced"
    assert next_severity("reduced", [Outcome(1, 3, 2)], may_reduce=True) == "normal"
    assert next_severity("reduced", [Outcome(1, 3, 0)], may_reduce=False) == "normal"


def test_sampling_stops_after_ten_lots_on_tightened() -> None:
    assert not is_stopped("tightened", [GOOD, BAD] * 4 + [BAD])
    assert is_stopped("tightened", [GOOD, BAD] * 5)
    assert not is_stopped("tightened", [BAD] * 5 + [GOOD] * 5)


# Each rule's shortest run that fires, and the same with one point moved so that it does not.
SHORTEST = {
    "beyond_limits": ((3.1,), (3.0,)),
    "two_of_three": ((2.1, 0, 2.1), (2.1, 0, 1.9)),
    "four_of_five": ((1.1, 1.1, 0, 1.1, 1.1), (1.1, 1.1, 0, 0.9, 1.1)),
    "nine_one_side": ((0.5, 0.4) * 4 + (0.5,), (0.5, 0.4) * 4 + (-0.5,)),
    "six_trend": ((-0.6, -0.4, -0.2, 0.1, 0.3, 0.5), (-0.6, -0.4, -0.2, 0.1, 0.3, 0.3)),
    "fourteen_alternate": ((0.5, -1.5) * 7, (0.5, -1.5) * 6 + (0.5, 0.5)),
    "fifteen_near": ((0.5, 0.6, -0.5) * 5, (0.5, 0.6, -0.5) * 4 + (0.5, 0.6, -1.5)),
    "eight_off": ((1.5, 1.4, -1.5, -1.4) * 2, (1.5, 1.4, -1.5, -1.4, 1.5, 1.4, -1.5, -0.4)),
}


@pytest.mark.parametrize("rule", RULES)
def test_each_rule_fires_at_its_last_point_and_not_a_point_short(rule: str) -> None:
    run, not_quite = SHORTEST[rule]
    assert (rule, len(run) - 1) in names_of(chart_of(*run))
    assert rule not in {name for name, _ in names_of(chart_of(*not_quite))}
    assert rule not in {name for name, _ in names_of(chart_of(*run[1:]))}


def test_a_rule_that_goes_on_is_told_once_and_a_point_beyond_each_time() -> None:
    names = [name for name, _ in names_of(chart_of(*[0.5, 0.4] * 6, 3.5, 3.5))]
    assert names.count("nine_one_side") == 1
    assert names.count("beyond_limits") == 2


def test_of_ranges_only_points_beyond_a_limit_are_told() -> None:
    assert names_of(chart_of(*[0.5, 0.4] * 6, 3.5, kind="range")) == [("beyond_limits", 12)]


def test_one_value_makes_no_chart() -> None:
    with pytest.raises(TooFewPointsError) as refused:
        individuals_charts([1.0])
    assert refused.value.facts == {"checks": 1, "at_least": 2}


def test_where_all_are_alike_nothing_stands_out() -> None:
    assert fired(individuals_charts([2.0] * 10)[0]) == []
