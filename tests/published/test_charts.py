"""Control charts and capability against published examples."""

from __future__ import annotations

import numpy as np
import pytest

from batches.quality.rules.capability import (
    capability,
    freedom_of_moving_ranges,
    freedom_of_ranges,
)
from batches.quality.rules.charts import (
    RANGES,
    c_chart,
    individuals_charts,
    mean_charts,
    np_chart,
    p_chart,
    u_chart,
)
from batches.quality.rules.runs import BEYOND_LIMITS, fired
from batches.quality.rules.widened import widened

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2: failing chips of 50 on a wafer.
WAFERS = [12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15]
WAFERS += [9, 12, 7, 13, 9, 6]
# The same, 6.3.3.1: flaws on a wafer.
FLAWS = [16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19]
FLAWS += [16, 31, 13]
# The same, 6.3.2.2: flow rate.
FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def test_shares_of_failing_chips() -> None:
    chart = p_chart(WAFERS, [50] * 30)
    first = chart.points[0]
    assert first is not None
    assert (chart.center, first.upper, first.lower) == pytest.approx(
        (0.2313, 0.4102, 0.0524), abs=5e-5
    )
    beyond = [hit.last + 1 for hit in fired(chart) if hit.rule == BEYOND_LIMITS]
    assert beyond == [15, 23]


def test_numbers_of_failing_chips_are_fifty_times_their_shares() -> None:
    chart = np_chart(WAFERS, tested=50)
    first = chart.points[0]
    assert first is not None
    assert (chart.center, first.upper, first.lower) == pytest.approx(
        (11.5667, 20.512, 2.6214), abs=5e-4
    )


def test_limits_of_large_samples_that_differ() -> None:
    """Made up, worked through by the formulas of Laney (2002) apart from this project."""
    failed = [120, 135, 98, 160, 142, 110, 155, 128]
    tested = [5000, 5200, 4800, 5500, 5100, 4900, 5300, 5000]
    chart = widened(p_chart(failed, tested), points_min=8)
    assert chart is not None
    assert chart.kind == "p_prime"
    assert chart.times_wider == pytest.approx(1.898624, rel=5e-4)
    limits = [(point.lower, point.upper) for point in chart.points if point]
    uppers = [0.038429, 0.038182, 0.038692, 0.037836, 0.038304, 0.038559, 0.038063, 0.038429]
    lowers = [0.012943, 0.013191, 0.012680, 0.013536, 0.013069, 0.012814, 0.013309, 0.012943]
    # The example takes 1.128 where d2 is 1.1284.
    assert [upper for _, upper in limits] == pytest.approx(uppers, abs=1e-5)
    assert [lower for lower, _ in limits] == pytest.approx(lowers, abs=1e-5)


def test_samples_that_differ_by_chance_keep_their_limits() -> None:
    rng = np.random.default_rng(5)
    got = [widened(u_chart(rng.poisson(0.02 * 500, 30).tolist(), [500] * 30)) for _ in range(1_000)]
    assert 3 <= sum(chart is not None for chart in got) <= 25  # 1 in 100
    rates = rng.gamma(4, 0.02 / 4, 30)
    chart = widened(u_chart(rng.poisson(rates * 500).tolist(), [500] * 30))
    assert chart is not None
    assert fired(chart) == []


def test_flaws_of_wafers() -> None:
    chart = c_chart(FLAWS)
    first = chart.points[0]
    assert first is not None
    assert (chart.center, first.upper, first.lower) == (16, 28, 4)
    assert [hit.last + 1 for hit in fired(chart) if hit.rule == BEYOND_LIMITS] == [24]


def test_flaws_a_piece_of_samples_of_one_are_flaws() -> None:
    assert u_chart(FLAWS, [1] * 25).points == c_chart(FLAWS).points


def test_limits_widen_where_a_sample_is_small() -> None:
    few, many = p_chart([1, 4], [10, 40]).points
    assert few is not None
    assert many is not None
    assert few.sigma == pytest.approx(2 * many.sigma)
    assert few.lower is None


def test_single_values_and_their_moving_range() -> None:
    single, moving = individuals_charts(FLOW)
    first, second = single.points[0], moving.points[1]
    assert first is not None
    assert second is not None
    assert (single.center, moving.center) == pytest.approx((50.81, 1.8778), abs=5e-5)
    # The handbook takes 1.128 where d2 is 1.1284.
    assert (first.upper, first.lower) == pytest.approx((55.8041, 45.8159), abs=2e-3)
    assert second.upper == pytest.approx(6.1349, abs=2e-3)
    assert moving.points[0] is None


def test_piston_rings() -> None:
    """D. C. Montgomery, Introduction to Statistical Quality Control: from mean and mean range."""
    half = 0.02276 / 2
    rings = [74.00118 - half, 74.00118, 74.00118, 74.00118, 74.00118 + half]
    means, ranges = mean_charts([rings] * 25)
    mean, spread = means.points[0], ranges.points[0]
    assert mean is not None
    assert spread is not None
    assert (mean.upper, mean.lower, spread.upper) == pytest.approx(
        (74.0143, 73.98805, 0.04812), abs=5e-5
    )
    assert means.sigma_within is not None
    said = capability(
        rings * 25,
        lower=73.95,
        upper=74.05,
        sigma_within=means.sigma_within,
        freedom_within=freedom_of_ranges(subgroups=25, size=5),
    )
    assert said is not None
    assert said.cp is not None
    assert said.cpk is not None
    assert (said.cp.value, said.cpk.value) == pytest.approx((1.70, 1.66), abs=5e-3)


def test_capability_of_the_handbook() -> None:
    """NIST/SEMATECH e-Handbook, 6.1.6: limits 8 and 20, mean 16, sigma 2, one half off center."""
    spread = np.sqrt(49 / 50) * 2
    values = [16 - spread, 16 + spread] * 25
    said = capability(values, lower=8, upper=20, sigma_within=2, freedom_within=49)
    assert said is not None
    assert said.pp is not None
    assert said.ppk is not None
    assert (said.pp.value, said.ppk.value) == pytest.approx((1.0, 0.6667), abs=5e-5)
    # chi-squared quantiles of 49, printed in any table: 31.555 and 70.222
    assert (said.pp.low, said.pp.high) == pytest.approx(
        (np.sqrt(31.555 / 49), np.sqrt(70.222 / 49)), abs=1e-4
    )


def test_ranges_know_as_much_of_a_spread_as_their_degrees_of_freedom_say() -> None:
    draws = np.random.default_rng(20261130).normal(size=(4000, 25, 5))
    sigmas = np.ptp(draws, axis=2).mean(axis=1) / RANGES[5].d2
    assert 1 / (2 * sigmas.var()) == pytest.approx(freedom_of_ranges(subgroups=25, size=5), rel=0.1)


def test_so_do_moving_ranges() -> None:
    draws = np.random.default_rng(20261130).normal(size=(4000, 50))
    sigmas = np.abs(np.diff(draws, axis=1)).mean(axis=1) / RANGES[2].d2
    assert 1 / (2 * sigmas.var()) == pytest.approx(freedom_of_moving_ranges(50), rel=0.1)
