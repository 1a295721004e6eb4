"""Sampling plans against the standard's tables and other people's arithmetic."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from scipy.stats import binom, hypergeom, poisson

from batches.quality.rules.plan_tables import (
    AQLS,
    LETTERS,
    LEVELS,
    REDUCED_SIZES,
    SIZES,
    cell,
    letter_row,
)
from batches.quality.rules.plans import (
    Outcome,
    accepted_ratio,
    accepted_ratio_flaws,
    accepted_ratio_lot,
    characteristic,
    next_severity,
    sampled,
)

HERE = Path(__file__).parent


def rows_of(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def test_every_cell_of_the_normal_table_is_the_standards() -> None:
    """MIL-STD-105E (10 May 1989, public domain), Table II-A, arrows followed."""
    rows = rows_of("sampling_single_normal.csv")
    found = []
    for row in rows:
        plan = cell(
            row=LETTERS.index(row["code_letter"]), aql=row["aql_percent"], severity="normal"
        )
        found.append((LETTERS[plan.row], str(SIZES[plan.row]), str(plan.accept), str(plan.reject)))
    assert len(rows) == 192
    assert found == [(row["plan_letter"], row["n"], row["Ac"], row["Re"]) for row in rows]


def test_every_code_letter_is_the_standards() -> None:
    """MIL-STD-105E, Table I: at both ends of every range of lot sizes."""
    rows = rows_of("sampling_code_letters.csv")
    ends = [
        (int(size), level, row[level])
        for row in rows
        for size in (row["lot_min"], row["lot_max"] or "9000000")
        for level in LEVELS
    ]
    assert len(ends) == 15 * 2 * 7
    assert [LETTERS[letter_row(lot_size=size, level=level)] for size, level, _ in ends] == [
        letter for _, _, letter in ends
    ]


# Anchors of Tables II-B and II-C, from memory: letter, AQL, severity, accept and reject.
REMEMBERED = [
    ("J", "1.0", "tightened", 1, 2),
    ("J", "1.5", "tightened", 2, 3),
    ("K", "1.0", "tightened", 2, 3),
    ("L", "2.5", "tightened", 8, 9),
    ("K", "10", "tightened", 18, 19),
    ("J", "1.0", "reduced", 1, 3),
    ("K", "2.5", "reduced", 3, 6),
    ("F", "2.5", "reduced", 0, 2),
]


@pytest.mark.parametrize(("letter", "aql", "severity", "accept", "reject"), REMEMBERED)
def test_tightened_and_reduced_as_remembered(
    letter: str, aql: str, severity: str, accept: int, reject: int
) -> None:
    found = cell(row=LETTERS.index(letter), aql=aql, severity=severity)
    assert (LETTERS[found.row], found.accept, found.reject) == (letter, accept, reject)


ROWS = range(len(LETTERS))
# How often a lot at the level itself passes, least and most, by acceptance number; a plan that
# stood one letter off would lie outside. Computed here: no copy of the standard's own is at hand.
AT_THE_LEVEL = {
    "normal": {0: (0.87, 0.89), 1: (0.90, 0.92), 2: (0.95, 0.963), 3: (0.956, 0.968),
               5: (0.981, 0.989), 7: (0.981, 0.989), 10: (0.982, 0.992), 14: (0.980, 0.991),
               21: (0.985, 0.995)},
    "tightened": {0: (0.81, 0.83), 1: (0.79, 0.83), 2: (0.85, 0.89), 3: (0.84, 0.89),
                  5: (0.88, 0.92), 8: (0.91, 0.95), 12: (0.93, 0.96), 18: (0.93, 0.965)},
}  # fmt: skip


def passes(severity: str, row: int, aql: str, times: float = 1) -> float:
    """How often a lot passes so many times as bad as the level; fewer than `reject` pass."""
    plan = cell(row=row, aql=aql, severity=severity)
    size = (REDUCED_SIZES if severity == "reduced" else SIZES)[plan.row]
    return float(binom.cdf(plan.reject - 1, size, min(1.0, times * float(aql) / 100)))


@pytest.mark.parametrize("severity", ["normal", "tightened"])
def test_plans_of_one_acceptance_number_pass_as_often_at_their_level(severity: str) -> None:
    outside = [
        (LETTERS[row], aql)
        for row in ROWS
        for aql in AQLS
        for least, most in [
            AT_THE_LEVEL[severity][cell(row=row, aql=aql, severity=severity).accept]
        ]
        if not least <= passes(severity, row, aql) <= most
    ]
    assert outside == []


def test_tightened_is_stricter_and_reduced_is_not() -> None:
    cells = [(row, aql) for row in ROWS for aql in AQLS]
    assert all(passes("tightened", *each) < passes("normal", *each) for each in cells)
    assert all(
        passes("reduced", *each, times) > passes("normal", *each, times) - 1e-4
        for each in cells
        for times in (0.1, 0.5, 1, 2, 4, 8)
    )


@pytest.mark.parametrize("severity", ["normal", "tightened", "reduced"])
def test_more_pieces_by_letter_and_more_may_fail_by_level(severity: str) -> None:
    plans = [[cell(row=row, aql=aql, severity=severity) for aql in AQLS] for row in ROWS]
    for of_level in zip(*plans, strict=True):
        rows = [plan.row for plan in of_level]
        assert rows == sorted(rows)
    for of_letter in plans:
        accepts = [plan.accept for plan in of_letter]
        assert accepts == sorted(accepts)


def test_the_operating_characteristic_as_printed() -> None:
    """MIL-STD-105E, Table X-J-1, AQL 1.0: failing per cent by how often the lot passes."""
    plan = sampled(lot_size=1000, level="II", aql="1.0", severity="normal")
    assert (plan.letter, plan.size, plan.accept, plan.reject) == ("J", 80, 2, 3)
    printed = [0.55, 1.03, 1.38, 2.16, 3.33, 4.84, 6.52, 7.66, 10.1]
    found = [100 * point.failing_ratio for point in characteristic(plan)]
    assert found == pytest.approx(printed, abs=0.0056)


@pytest.mark.parametrize(("size", "accept"), [(2, 0), (80, 2), (2000, 21)])
@pytest.mark.parametrize("ratio", [0.0, 0.001, 0.03, 0.5, 1.0])
def test_chances_as_scipy_has_them(size: int, accept: int, ratio: float) -> None:
    assert accepted_ratio(size=size, accept=accept, failing_ratio=ratio) == pytest.approx(
        binom.cdf(accept, size, ratio), abs=1e-9
    )
    assert accepted_ratio_flaws(size=size, accept=accept, flaws_a_piece=ratio) == pytest.approx(
        poisson.cdf(accept, size * ratio), abs=1e-9
    )
    failing = round(ratio * 2 * size)
    assert accepted_ratio_lot(
        lot_size=2 * size, size=size, accept=accept, failing=failing
    ) == pytest.approx(hypergeom.cdf(accept, 2 * size, failing, size), abs=1e-9)


def test_severity_goes_up_and_down_with_the_lots() -> None:
    """MIL-STD-105E, 4.7.1 and 4.7.2, the run of lots worked through by hand."""
    severity, run, seen = "normal", list[Outcome](), list[str]()
    for letter in "AARARAAAAAAA":
        seen.append(severity)
        run.append(Outcome(accept=2, reject=3, failed=0 if letter == "A" else 3))
        after = next_severity(severity, run, may_reduce=False)
        run = run if after == severity else []
        severity = after
    assert [*seen, severity] == ["normal"] * 5 + ["tightened"] * 5 + ["normal"] * 3
