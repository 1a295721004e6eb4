"""Reorder points by fill rate: against brute force, numerical integration and each other."""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from inventory.reorder.rules.compound import Uses, compound_point, compound_quantile
from inventory.reorder.rules.demand import Spread
from inventory.reorder.rules.points import DemandRule, cycle_point, fill_point
from inventory.reorder.rules.service import counted_point, gamma_point, root_of_falling

pytestmark = pytest.mark.only_on("sqlite")  # no database has a part in it: once is enough


def short_by_integration(before: Spread, until: Spread, point: float, order: float) -> float:
    """Share of a review's use that is short: the definition, by numerical integration."""
    at = np.linspace(point, 1_500.0, 60_001)

    def losses(demand: Spread) -> np.ndarray:
        shape = (demand.mean / demand.sd) ** 2
        beyond = stats.gamma.sf(at, shape, scale=demand.mean / shape)
        parts = integrate.cumulative_trapezoid(beyond[::-1], dx=at[1] - at[0], initial=0)
        return np.asarray(parts[::-1])

    is_met = at <= point + order
    short = integrate.trapezoid((losses(until) - losses(before))[is_met], at[is_met])
    return float(short / order / (until.mean - before.mean))


@pytest.mark.parametrize("fill_rate", [0.9, 0.98])
@pytest.mark.parametrize("order", [30.0, 200.0])
def test_a_gamma_point_leaves_short_what_is_allowed(fill_rate: float, order: float) -> None:
    before, until = Spread(100.0, 40.0), Spread(150.0, 50.0)
    point = gamma_point(before=before, until=until, order_base=order, fill_rate=fill_rate)
    found = short_by_integration(before, until, point, order)
    assert found == pytest.approx(1 - fill_rate, rel=2e-3)


def test_a_counted_point_is_the_smallest_that_keeps_the_rate_in_a_shop_lived_day_by_day() -> None:
    """Negative binomial days, 5 days of lead time, a look a day, orders of 6: 400,000 days."""
    rng = np.random.default_rng(1)
    mean, variance, lead, order = 0.5, 1.5, 5, 6
    use = rng.negative_binomial(mean**2 / (variance - mean), mean / variance, 400_000)
    before = Spread(mean * lead, math.sqrt(variance * lead))
    until = Spread(mean * (lead + 1), math.sqrt(variance * (lead + 1)))
    point = counted_point(before=before, until=until, order_base=order, fill_rate=0.95)
    assert lived_fill_rate(use, point, order, lead) >= 0.949
    assert lived_fill_rate(use, point - 1, order, lead) < 0.949


def lived_fill_rate(use: np.ndarray, point: int, order: int, lead: int) -> float:
    """Share met from the shelf: look, order in whole lots, use; what is owed waits."""
    position = shelf = point + order
    arriving = [0] * lead
    met = 0
    for needed in use.tolist():
        shelf += arriving.pop(0)
        lots = max(0, -(-(point + 1 - position) // order))
        position += lots * order - needed
        arriving.append(lots * order)
        met += min(needed, max(0, shelf))
        shelf -= needed
    return float(met / use.sum())


@pytest.mark.parametrize(("fill_rate", "point"), [(0.866, 2), (0.8663, 3), (0.95, 4), (0.99, 5)])
def test_points_of_poisson_demand_looked_at_all_the_time(fill_rate: float, point: int) -> None:
    """G. Hadley & T. M. Whitin, Analysis of Inventory Systems, 1963, ch. 4: 0.866146 at r = 2.

    Lead-time demand 2, Q = 4; ours orders at r as theirs does. Figures computed from the formula by
    an exact sum and by a simulation of 400,000 demands.
    """
    moment = 1e-4
    found = counted_point(
        before=Spread(2.0, math.sqrt(2.0)),
        until=Spread(2.0 + moment, math.sqrt(2.0 + moment)),
        order_base=4,
        fill_rate=fill_rate,
    )
    assert found == point


USES = Uses(np.array([5, 5, 6, 4, 5, 20], dtype=np.int64), is_unequal=False)


def test_uses_by_chance_agree_with_drawing_them() -> None:
    rng = np.random.default_rng(2)
    until = Spread(15.0, math.sqrt(15.0 / 7.5 * float((USES.sizes_base**2).mean())))
    counts = rng.poisson(2.0, 200_000)
    ends = np.concatenate([[0], rng.choice(USES.sizes_base, counts.sum()).cumsum()])
    drawn = np.diff(ends[np.concatenate([[0], counts.cumsum()])])
    for level in (0.9, 0.98):
        found = compound_quantile(until=until, service_level=level, uses=USES)
        assert found == pytest.approx(np.quantile(drawn, level), abs=1.5)


def test_a_use_larger_than_all_on_record_is_reckoned_with_where_they_are_unequal() -> None:
    spreads = {"before": Spread(5.0, 8.0), "until": Spread(15.0, 14.0)}
    alike = compound_point(order_base=30, fill_rate=0.98, uses=USES, **spreads)
    unequal = Uses(USES.sizes_base, is_unequal=True)
    assert compound_point(order_base=30, fill_rate=0.98, uses=unequal, **spreads) > alike + 1


@pytest.mark.parametrize("mean", [3.0, 40.0])
def test_more_is_kept_for_a_higher_rate_for_smaller_orders_and_for_more_spread(mean: float) -> None:
    def point(fill_rate: float = 0.95, order: float = 20.0, wider: float = 1.0) -> int:
        return fill_point(
            before=Spread(mean, wider * math.sqrt(2 * mean)),
            until=Spread(1.5 * mean, wider * math.sqrt(3 * mean)),
            order_base=order,
            fill_rate=fill_rate,
            uses=None,
        ).point_base

    assert point(fill_rate=0.99) > point()
    assert point(order=5.0) > point()
    assert point(wider=2.0) > point()


def test_large_orders_may_leave_the_shelf_empty_at_their_end() -> None:
    found = fill_point(
        before=Spread(100.0, 5.0),
        until=Spread(110.0, 6.0),
        order_base=1_000.0,
        fill_rate=0.95,
        uses=None,
    )
    # 50 of 1,000 may be short, and are by a point of 60 or so, since use spreads little.
    assert found.point_base == pytest.approx(60, abs=6)
    assert found.safety_base == 0


def test_three_a_month_in_lots_are_not_given_to_a_normal_curve() -> None:
    found = cycle_point(until=Spread(15.0, 12.0), service_level=0.95, uses=USES)
    assert found.rule is DemandRule.COMPOUND


def test_nothing_used_needs_no_point() -> None:
    nothing = Spread(0.0, 0.0)
    found = fill_point(before=nothing, until=nothing, order_base=1.0, fill_rate=0.95, uses=None)
    assert (found.point_base, found.safety_base) == (0, 0)


@pytest.mark.parametrize("start", [0.1, 1.0, 1_000.0])
def test_a_root_is_found_from_wherever_it_is_looked_for(start: float) -> None:
    found = root_of_falling(lambda x: math.exp(-x) - 0.001, start, close=1e-9)
    assert found == pytest.approx(math.log(1_000), abs=1e-6)
