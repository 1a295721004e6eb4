"""How many to start, on paper: against a worked example, integration and simulation."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import beta, betabinom, binom

from batches.planning.rules import starting as rules
from batches.planning.rules.lasting import Lasting, Wheel, day_before, start_on_last
from batches.planning.rules.making import Take
from batches.planning.rules.starting import Stage, StartPlan, start_by_means, start_plan
from batches.planning.rules.survival import Exact, good_chances
from batches.planning.rules.yields import Beta, RunCount, Yield, next_yield

HALF, BODY, LURE = "HALF", "BODY", "LURE"
ONE = Fraction(1)


def known(mean: float, alike: float = 0.0) -> Yield:
    return Yield((Beta(mean, alike),))


def chain(*yields: Yield, waiting: Sequence[int] = ()) -> tuple[dict[str, Stage], str]:
    """Stages one after the other, and the last of them."""
    stages: dict[str, Stage] = {}
    for place, each in enumerate(yields):
        takes = (Take(item=f"S{place - 1}", per_piece=ONE),) if place else ()
        there = waiting[place] if place < len(waiting) else 0
        stages[f"S{place}"] = Stage(next_yield=each, waiting=there, takes=takes)
    return stages, f"S{len(yields) - 1}"


def planned(stages: tuple[dict[str, Stage], str], good: int, chance: float) -> StartPlan:
    plan = start_plan(stages[0], stages[1], good=good, chance=chance)
    assert plan is not None
    return plan


def starts(plan: StartPlan) -> dict[str, int]:
    return {run.item: run.start for run in plan.runs if run.start is not None}


# Rolled throughput yield is the product of the stages' (Six Sigma texts); the numbers by the exact
# binomial, recomputed apart from this code: worked example yield-start-s.
@pytest.mark.parametrize(
    ("good", "chance", "yields", "start", "sure", "one_fewer"),
    [
        (100, 0.95, (0.98, 0.95, 0.97), 117, 0.966798, 0.944336),
        (20, 0.90, (0.90,), 24, 0.914925, 0.807269),
        (1, 0.99, (0.80,), 3, 0.992, 0.96),
    ],
)
def test_the_fewest_that_are_enough_with_yields_that_are_known(
    good: int, chance: float, yields: tuple[float, ...], start: int, sure: float, one_fewer: float
) -> None:
    plan = planned(chain(*map(known, yields)), good, chance)
    assert starts(plan) == {"S0": start}
    assert plan.chance == pytest.approx(sure, abs=1e-6)
    assert plan.chance_with_one_fewer == pytest.approx(one_fewer, abs=1e-6)


# Same source: 111 and 23 by the rolled yield alone.
def test_mean_yields_alone_start_fewer() -> None:
    stages, last = chain(known(0.9))
    assert start_by_means(stages, last, 20) == {"S0": 23}


@pytest.mark.parametrize("worked", [1, 40, 117])
def test_the_chances_of_a_run_are_those_of_integrating_over_its_yield(worked: int) -> None:
    this = Yield((Beta(0.9, 0.05, 0.25), Beta(0.97, 0.004, 0.75)))
    ours = good_chances([worked], worked + 1, this)[0]
    for good in {0, worked // 2, worked - 1, worked}:
        integrated = sum(
            part.weight
            * quad(
                lambda y, part=part, good=good: (
                    binom.pmf(good, worked, y) * beta.pdf(y, *part.shape)
                ),
                0.3,
                1.0,
                limit=200,
            )[0]
            for part in this.parts
        )
        assert ours[good] == pytest.approx(integrated, rel=1e-5, abs=1e-12)
    assert ours.sum() == pytest.approx(1)


def test_a_chain_with_waiting_pieces_survives_as_often_as_in_a_simulation() -> None:
    stages = chain(known(0.95, 0.02), known(0.9, 0.03), known(0.98, 0.01), waiting=(10, 25))
    plan = planned(stages, 150, 0.9)
    rng = np.random.default_rng(5)
    worked = np.full(200_000, starts(plan)["S0"])
    for place, waiting in enumerate((10, 25, 0)):
        shape = stages[0][f"S{place}"].next_yield.parts[0].shape
        worked = rng.binomial(worked, rng.beta(*shape, size=worked.size)) + waiting
    assert plan.chance == pytest.approx((worked >= 150).mean(), abs=0.003)
    assert plan.chance_with_one_fewer < 0.9 <= plan.chance


def test_two_halves_make_a_body_and_the_scarcer_ones_decide() -> None:
    halves = known(0.95, 0.02)
    stages = {
        "LEFT": Stage(next_yield=halves, waiting=30),
        "RIGHT": Stage(next_yield=known(0.9, 0.04)),
        BODY: Stage(
            next_yield=known(0.97, 0.01),
            takes=(Take(item="LEFT", per_piece=ONE), Take(item="RIGHT", per_piece=ONE)),
        ),
    }
    plan = start_plan(stages, BODY, good=120, chance=0.95)
    assert plan is not None
    count = starts(plan)
    rng = np.random.default_rng(6)
    left = 30 + betabinom.rvs(count["LEFT"], *halves.parts[0].shape, size=200_000, random_state=rng)
    shape = stages["RIGHT"].next_yield.parts[0].shape
    right = betabinom.rvs(count["RIGHT"], *shape, size=200_000, random_state=rng)
    bodies = rng.binomial(np.minimum(left, right), rng.beta(96.03, 2.97, size=200_000))
    assert plan.chance == pytest.approx((bodies >= 120).mean(), abs=0.003)


def test_what_waits_is_used_before_anything_is_started_deeper() -> None:
    enough = planned(chain(known(0.95), known(0.9), waiting=(500,)), 100, 0.95)
    assert list(starts(enough)) == ["S1"]
    some = planned(chain(known(0.95), known(0.9), waiting=(50,)), 100, 0.95)
    none = planned(chain(known(0.95), known(0.9)), 100, 0.95)
    assert starts(some)["S0"] < starts(none)["S0"] - 45


def test_a_body_takes_two_halves_and_two_that_are_lost_setting_up() -> None:
    stages = {
        HALF: Stage(next_yield=known(1.0)),
        BODY: Stage(
            next_yield=known(1.0),
            takes=(Take(item=HALF, per_piece=2 * ONE, per_batch_base=2),),
        ),
    }
    plan = start_plan(stages, BODY, good=50, chance=0.9)
    assert plan is not None
    assert starts(plan) == {HALF: 102}


@pytest.mark.parametrize("chance", [0.6, 0.9, 0.99])
def test_samples_for_many_agree_with_exact_chances(
    chance: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    stages = chain(known(0.98, 0.02), known(0.95, 0.01), waiting=(40,))
    exact = starts(planned(stages, 180, chance))["S0"]
    monkeypatch.setattr(rules, "EXACT_MAX", 10)
    assert starts(planned(stages, 180, chance))["S0"] == pytest.approx(exact, rel=0.008)


def test_a_million_is_planned_as_well() -> None:
    plan = planned(chain(known(0.98), known(0.95)), 1_000_000, 0.95)
    # Chance among a million pieces is nothing: the mean, and a little.
    assert starts(plan)["S0"] == pytest.approx(1_000_000 / (0.98 * 0.95), rel=0.001)


def test_yields_that_are_too_low_have_no_plan() -> None:
    stages, last = chain(known(0.001))
    assert start_plan(stages, last, good=10, chance=0.95) is None


def test_the_smaller_of_two_is_told_from_both() -> None:
    first, second = Exact(2, np.array([0.5, 0.5])), Exact(1, np.array([0.25, 0.25, 0.5]))
    least = first.smaller(second)
    assert least.first == 1
    assert least.chances.tolist() == pytest.approx([0.25, 0.25 + 0.5 * 0.5, 0.5 * 0.5])
    same = Exact(7, np.ones(1))
    assert same.smaller(same).at_least(7) == 1


def test_a_next_run_is_as_uncertain_as_integrating_over_all_that_may_be_true_says() -> None:
    runs = [RunCount(100, 95), RunCount(120, 118), RunCount(60, 50)]
    # Apart from the code: an even grid over the mean itself, and one of betabinom's own chances.
    mean = np.linspace(0.0005, 0.9995, 2000)[:, None]
    alike = np.geomspace(1e-4, 0.3, 160)[None, :]
    size = (1 - alike) / alike
    weight = beta.pdf(mean, 20 * 0.95 + 1e-12, 20 * 0.05 + 1e-12) * np.ones_like(alike)
    for worked, good in runs:
        weight = weight * betabinom.pmf(good, worked, mean * size, (1 - mean) * size)
    weight /= weight.sum()
    first = (weight * mean).sum()
    second = (weight * (mean**2 + mean * (1 - mean) * alike)).sum()
    learned = next_yield(runs, planned=0.95)
    assert learned.mean == pytest.approx(first, abs=5e-4)
    assert learned.sd == pytest.approx((second - first**2) ** 0.5, rel=0.01)


def test_few_runs_leave_more_doubt_than_many_and_none_the_most() -> None:
    run = RunCount(100, 95)
    none, few, many = (next_yield([run] * count, planned=0.95) for count in (0, 3, 40))
    assert none.sd > few.sd > many.sd
    assert many.mean == pytest.approx(0.95, abs=0.003)


def test_runs_that_differ_leave_more_doubt_than_runs_alike() -> None:
    alike = [RunCount(100, 90)] * 10
    unlike = [RunCount(100, 99), RunCount(100, 81)] * 5
    assert next_yield(unlike, planned=0.9).sd > 2 * next_yield(alike, planned=0.9).sd


def test_a_plan_of_no_scrap_is_not_believed_before_there_are_runs() -> None:
    assert next_yield([], planned=1.0).mean == pytest.approx(0.98, abs=0.002)


def test_a_wheel_takes_an_index_a_piece_and_clamps_the_last_one() -> None:
    # 300 s over 24 stations: 12.5 s a piece at the fastest.
    wheel = Wheel(stations=24, clamp_seconds=300)
    assert wheel.index_seconds_min == Fraction(25, 2)
    assert wheel.hours(264) == 1
    assert Wheel(24, 300, Decimal(15)).hours(700) == 3


@pytest.mark.parametrize(
    ("ready_on", "hours", "rest", "days_a_week", "start_on"),
    [
        (date(2026, 3, 13), 8, 0, 5, date(2026, 3, 13)),  # a Friday, one day's work
        (date(2026, 3, 13), 9, 0, 5, date(2026, 3, 12)),
        (date(2026, 3, 15), 8, 0, 5, date(2026, 3, 13)),  # a Sunday: ready on the Friday before
        (date(2026, 3, 13), 48, 0, 5, date(2026, 3, 6)),  # six days over a weekend
        (date(2026, 3, 13), 80, 0, 5, date(2026, 3, 2)),
        (date(2026, 3, 13), 48, 0, 7, date(2026, 3, 8)),
        (date(2026, 3, 16), 8, 20, 5, date(2026, 3, 13)),  # dries over the weekend
        (date(2026, 3, 13), 0, 0, 5, date(2026, 3, 13)),
    ],
)
def test_the_last_day_to_start_counts_working_days_back(
    ready_on: date, hours: int, rest: int, days_a_week: int, start_on: date
) -> None:
    lasting = Lasting(Fraction(hours), Fraction(rest))
    found = start_on_last(ready_on, lasting, hours_a_day=Decimal(8), days_a_week=days_a_week)
    assert found == start_on


def test_the_working_day_before_a_monday_is_friday() -> None:
    assert day_before(date(2026, 3, 9), 5) == date(2026, 3, 6)
