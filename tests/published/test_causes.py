"""What is said of failures, against published tables and other people's arithmetic."""

from __future__ import annotations

from dataclasses import astuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import false_discovery_control, fisher_exact, hypergeom
from scipy.stats.contingency import relative_risk

from batches.trace.rules.chances import Counts, exact_chances
from batches.trace.rules.fourfold import (
    Fourfold,
    adjusted_for_many,
    exact_p,
    risk_ratio,
    risk_ratio_within,
)

# Food: ill and well who ate it, ill and well who did not; the ratio printed. CDC, EIS case study
# 401-303, "Oswego: An Outbreak of Gastrointestinal Illness Following a Church Supper" (rev. 2003).
OSWEGO = {
    "baked ham": (29, 17, 17, 12, 1.1),
    "spinach": (26, 17, 20, 12, 1.0),
    "vanilla ice cream": (43, 11, 3, 18, 5.6),
}


@pytest.mark.parametrize("food", OSWEGO)
def test_the_church_supper_comes_out_as_printed(food: str) -> None:
    ill_with, well_with, ill_without, well_without, printed = OSWEGO[food]
    ratio = risk_ratio(
        Fourfold(ill_with, ill_with + well_with, ill_without, ill_without + well_without)
    )
    assert ratio is not None
    assert round(ratio.value, 1) == printed


def test_the_ice_cream_is_the_strongest_whatever_is_looked_at() -> None:
    tables = {food: Fourfold(a, a + b, c, c + d) for food, (a, b, c, d, _) in OSWEGO.items()}
    assert min(tables, key=lambda food: exact_p(tables[food])) == "vanilla ice cream"
    assert tables["vanilla ice cream"].rate_with == pytest.approx(0.796, abs=5e-4)
    assert tables["vanilla ice cream"].rate_without == pytest.approx(0.143, abs=5e-4)


def test_a_ratio_has_the_interval_that_is_printed() -> None:
    """H. Sahai and A. Khurshid, Statistics in Epidemiology (1996), as scipy's manual quotes it."""
    ratio = risk_ratio(Fourfold(27, 122, 44, 487))
    assert ratio is not None
    assert (ratio.value, ratio.low, ratio.high) == pytest.approx(
        (2.44952, 1.58370, 3.78868), abs=5e-6
    )


def test_the_lady_tasting_tea() -> None:
    """R. A. Fisher, The Design of Experiments (1935), chapter 2: 3 of 4 is no proof."""
    assert exact_p(Fourfold(3, 4, 1, 4)) == pytest.approx(0.2429, abs=5e-5)


def test_many_p_values_at_once() -> None:
    """Y. Benjamini and Y. Hochberg (1995), section 4: four of fifteen stand at 5 %."""
    p_values = [
        0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262,
        0.5719, 0.6528, 0.7590, 1.0000,
    ]  # fmt: skip
    shares = adjusted_for_many(p_values)
    assert sum(share <= 0.05 for share in shares) == 4
    assert shares == pytest.approx(list(false_discovery_control(p_values)))


def test_a_ratio_with_like_compared_to_like() -> None:
    """Boston University School of Public Health, "Confounding and Effect Measure Modification"."""
    strata = [Fourfold(10, 100, 35, 500), Fourfold(36, 200, 25, 200)]
    crude = risk_ratio(Fourfold(46, 300, 60, 700))
    assert crude is not None
    assert round(crude.value, 2) == 1.79
    assert risk_ratio_within(strata) == pytest.approx(1.44, abs=5e-3)


def test_a_ratio_of_several_tables_has_the_interval_that_is_printed() -> None:
    """Deaths by treatment below 55 years and above: K. J. Rothman, Modern Epidemiology (memory).

    Printed are the ratio 1.33 and its interval 0.80 to 2.2 after Greenland and Robins.
    """
    ratio = risk_ratio(Fourfold(8, 106, 5, 120), Fourfold(22, 98, 16, 85))
    assert ratio is not None
    assert (round(ratio.value, 2), round(ratio.low, 2)) == (1.33, 0.80)
    assert round(ratio.high, 1) == 2.2


def test_a_ratio_of_several_tables_is_the_one_with_like_compared_to_like() -> None:
    """The strata of Boston University, as above; the ratio of the sums would be 1.79."""
    ratio = risk_ratio(Fourfold(10, 100, 35, 500), Fourfold(36, 200, 25, 200))
    assert ratio is not None
    assert ratio.value == pytest.approx(1.436364, abs=1e-6)


COUNT = st.integers(0, 200)


@st.composite
def fourfolds(draw: st.DrawFn) -> Fourfold:
    tested_with, tested_without = draw(st.integers(1, 200)), draw(st.integers(1, 200))
    return Fourfold(
        draw(st.integers(0, tested_with)), tested_with,
        draw(st.integers(0, tested_without)), tested_without,
    )  # fmt: skip


@given(fourfolds())
def test_exact_p_is_what_scipy_says(table: Fourfold) -> None:
    counts = [
        [table.failed_with, table.tested_with - table.failed_with],
        [table.failed_without, table.tested_without - table.failed_without],
    ]
    assert exact_p(table) == pytest.approx(fisher_exact(counts, "greater").pvalue, abs=1e-9)


@given(total=st.integers(2, 400_000), data=st.data())
def test_exact_p_of_a_year_is_what_scipy_says(total: int, data: st.DataObject) -> None:
    tested_with = data.draw(st.integers(1, total - 1))
    failed = data.draw(st.integers(0, min(total, 2000)))
    least, most = max(0, tested_with + failed - total), min(tested_with, failed)
    failed_with = data.draw(st.integers(least, most))
    table = Fourfold(failed_with, tested_with, failed - failed_with, total - tested_with)
    said = hypergeom.sf(failed_with - 1, total, failed, tested_with)
    assert exact_p(table) == pytest.approx(said, rel=1e-6, abs=1e-9)


@given(fourfolds().filter(lambda table: table.failed_with > 0 and table.failed_without > 0))
def test_a_ratio_is_what_scipy_says(table: Fourfold) -> None:
    said = relative_risk(
        table.failed_with, table.tested_with, table.failed_without, table.tested_without
    )
    interval = said.confidence_interval(0.95)
    ratio = risk_ratio(table)
    assert ratio is not None
    assert (ratio.value, ratio.low, ratio.high) == pytest.approx(
        (said.relative_risk, interval.low, interval.high)
    )


@given(st.lists(st.floats(0, 1), min_size=1, max_size=60))
def test_many_p_values_are_what_scipy_says(p_values: list[float]) -> None:
    assert adjusted_for_many(p_values) == pytest.approx(
        np.atleast_1d(false_discovery_control(p_values)).tolist()
    )


@given(st.lists(fourfolds(), min_size=2, max_size=3))
def test_exact_p_of_several_tables_is_that_of_their_sum(tables: list[Fourfold]) -> None:
    """The distribution of a sum, from scipy's of each."""
    both = np.ones(1)
    for table in tables:
        total = table.tested_with + table.tested_without
        marked = table.failed_with + table.failed_without
        urn = hypergeom(total, marked, table.tested_with)
        both = np.convolve(both, urn.pmf(np.arange(min(marked, table.tested_with) + 1)))
    count = sum(table.failed_with for table in tables)
    assert exact_p(*tables) == pytest.approx(both[count:].sum(), rel=1e-6)
    strata = [counts_of([table]) for table in tables]
    assert exact_chances(strata, inflation=1) == pytest.approx([both[count:].sum()], rel=1e-6)


def counts_of(tables: list[Fourfold]) -> Counts:
    """The tables as columns."""
    return Counts(*np.array([astuple(table) for table in tables], dtype=np.int64).T)


@given(st.lists(fourfolds(), min_size=1, max_size=20), st.floats(1, 5))
def test_the_chances_of_many_are_those_of_each(tables: list[Fourfold], inflation: float) -> None:
    said = exact_chances([counts_of(tables)], inflation=inflation)
    assert said == pytest.approx([exact_p(each, inflation=inflation) for each in tables], rel=1e-7)


def test_the_chances_of_many_with_many_failures_are_what_scipy_says() -> None:
    """One with more failures than are summed up, a rare one, and two that none can tell of."""
    tables = [Fourfold(60, 1000, 50, 900), Fourfold(9, 20, 3, 400), Fourfold(0, 5, 2, 9)]
    said = [hypergeom.sf(59, 1900, 110, 1000), hypergeom.sf(8, 420, 12, 20), 1.0, 1.0]
    tables.append(Fourfold(3, 3, 0, 0))
    assert exact_chances([counts_of(tables)], inflation=1) == pytest.approx(said, rel=1e-6)


def test_a_table_that_can_tell_nothing_changes_no_chance() -> None:
    alone = Fourfold(5, 40, 2, 200)
    assert exact_p(alone, Fourfold(0, 30, 0, 10)) == exact_p(alone)
    assert exact_p(Fourfold(3, 3, 0, 0)) == 1
