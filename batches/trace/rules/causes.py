"""Which exposures the failures have in common, how sure that is, and what cannot be told apart.

A cause is named when chance alone would rarely make any exposure stand out so far; the chance is
found by drawing results in which nothing is at fault, entries as unlike each other as these are.
What stands out is then taken as known, and looked for what is left. Beside each cause stand all
exposures that explain the results nearly as well: data that know no difference must not be made to
tell one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array

from batches.trace.rules.chances import Counts, exact_chances
from batches.trace.rules.evidence import (
    Evidence,
    Floats,
    Results,
    draws,
    spread_of_entries,
    times_at_work,
)
from batches.trace.rules.fourfold import (
    Fourfold,
    Ratio,
    adjusted_for_many,
    risk_ratio,
    risk_ratio_within,
    together,
)

ALARM_P: Final = 0.025
"""Chance alone may raise an alarm in one of forty looks."""
DRAWS: Final = 300
AT_ONCE: Final = 50
"""Of all lots of a year and all draws there would be a million counts."""
ENOUGH: Final = 20
"""No more is drawn once so many draws stand out as far: chance is no alarm then, surely."""
CAUSES_MAX: Final = 3
TIED_LOG: Final = math.log(100)
"""An exposure is left out beside a cause if it makes the results a hundred times less likely."""
PAIRED: Final = 24
"""So many of the strongest exposures are tried two by two."""
PAIR_LOG: Final = math.log(10)
"""Two causes at once are taken to be ten times as rare as one."""
HALF: Final = 0.5
NEAREST_MAX: Final = 5


@dataclass(frozen=True, slots=True)
class Cause:
    """An exposure that stands out beyond chance.

    Attributes:
        number: Of the exposure.
        chance: Of any exposure standing out as far, were nothing at fault; 0 to 1.
        ratio: How many times as often pieces fail by it, roughly; > 1.
        tied: Exposures that explain the results nearly as well, itself first.
    """

    number: int
    chance: float
    ratio: float
    tied: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class ExposureTable:
    """One exposure's counts and what they say.

    Attributes:
        table: Pieces with it (at work by half or more) and without.
        ratio: Risk ratio with its 95 % interval, widened by how unlike entries are.
        p: One-sided exact chance of such counts, likewise.
        false_share: The same with regard to how many exposures were looked at.
        left: The risk ratio among pieces alike in the other causes found; None where nothing
            compares.
    """

    table: Fourfold
    ratio: Ratio | None
    p: float
    false_share: float
    left: float | None


@dataclass(frozen=True, slots=True)
class Findings:
    """What the results have to say.

    Attributes:
        causes: The strongest first; none when chance explains it.
        nearest: Where there is no cause, the exposures that come nearest to one, strongest first.
        chance: Of any exposure standing out as far as the strongest does.
        inflation: Variance of an entry's failures over that of single pieces, >= 1.
        tables: Of every exposure.
    """

    causes: tuple[Cause, ...]
    nearest: tuple[int, ...]
    chance: float
    inflation: float
    tables: Tables


def findings(results: Results, exposures: csr_array, *, seed: int = 1) -> Findings:
    """Look for causes of the failures among the exposures.

    Args:
        results: Pieces tested and failed, by cell.
        exposures: (exposures, cells) from 0, not at work, to 1, fully; no two rows the same.
        seed: Of the draws; the same results and seed give the same findings.
    """
    assert exposures.shape[1] == len(results.tested)
    if not exposures.shape[0] or not results.failed.any():
        return Findings((), (), 1.0, 1.0, Tables(results, exposures, (), 1.0))
    search = _Search(results, exposures, seed)
    causes, chance = search.causes()
    inflation = search.inflation
    tables = Tables(results, exposures, tuple(each.number for each in causes), inflation)
    nearest = () if causes else search.nearest()
    return Findings(causes, nearest, chance, inflation, tables)


class _Search:
    """The results with each entry weighed by how much it can tell."""

    def __init__(self, results: Results, exposures: csr_array, seed: int) -> None:
        self._results = results
        self._exposures = exposures
        self._rng = np.random.default_rng(seed)
        self._tested = results.tested.astype(np.float64)
        self._failed = results.failed.astype(np.float64)
        self._weight = np.ones(len(self._tested))
        self._spread = 0.0
        best = int(np.argmax(self._evidence({}).of_each()))
        expected = self._pieces({best: self._evidence({}).best_ratio(best)})
        expected *= self._failed.sum() / expected.sum()
        self._spread = spread_of_entries(results, expected)
        means = results.by_entry(expected)
        self._weight = (1 / (1 + self._spread * means))[results.entry]
        self.inflation = float(1 + self._spread * (means**2).sum() / max(means.sum(), 1e-12))

    def causes(self) -> tuple[tuple[Cause, ...], float]:
        """The causes, and the chance of the strongest."""
        known: dict[int, float] = {}
        chances: dict[int, float] = {}
        first_chance = 1.0
        while len(known) < CAUSES_MAX:
            evidence = self._evidence(known)
            logs = evidence.of_each()
            chance = self._chance(evidence, known, float(logs.max()))
            if not known:
                first_chance = chance
            if chance > ALARM_P:
                break
            number = int(np.argmax(logs)) if known else self._first(evidence, logs)
            if number in known:
                break
            known[number] = evidence.best_ratio(number)
            chances[number] = chance
        return tuple(self._cause(number, known, chances[number]) for number in known), first_chance

    def nearest(self) -> tuple[int, ...]:
        """The strongest few, whatever chance does."""
        logs = self._evidence({}).of_each()
        return tuple(int(each) for each in np.argsort(-logs, kind="stable")[:NEAREST_MAX])

    def _first(self, evidence: Evidence, logs: Floats) -> int:
        """The strongest alone; or of the strongest two, which an exposure common to both hides."""
        alone = int(np.argmax(logs))
        top = np.argsort(-logs, kind="stable")[:PAIRED]
        pairs = evidence.of_pairs(top)
        one, other = np.unravel_index(int(np.argmax(pairs)), pairs.shape)
        rarity = PAIR_LOG + math.log(max(1.0, (len(logs) - 1) / 2))
        if pairs[one, other] - rarity <= logs[alone] or alone in {top[one], top[other]}:
            return alone
        return int(max(top[one], top[other], key=lambda number: logs[number]))

    def _cause(self, number: int, known: dict[int, float], chance: float) -> Cause:
        others = {each: ratio for each, ratio in known.items() if each != number}
        evidence = self._evidence(others)
        logs = evidence.of_each()
        near = np.flatnonzero(logs >= logs[number] - TIED_LOG)
        near = near[np.argsort(-logs[near], kind="stable")]
        tied = (number, *(int(each) for each in near if each != number and each not in others))
        return Cause(number, chance, evidence.best_ratio(number), tied)

    def _pieces(self, known: dict[int, float]) -> Floats:
        """(cells,) pieces, each counted as often as it fails by known causes and its test.

        The excesses of several causes add up.
        """
        times = np.ones(len(self._tested))
        for number, ratio in known.items():
            times += times_at_work(self._exposures, number, ratio) - 1
        return self._results.evened(self._tested * times)

    def _evidence(self, known: dict[int, float]) -> Evidence:
        pieces = self._pieces(known) * self._weight
        return Evidence(self._exposures, pieces, self._failed * self._weight)

    def _chance(self, evidence: Evidence, known: dict[int, float], most: float) -> float:
        """Of any exposure standing out as far.

        Source: J. Besag and P. Clifford, "Sequential Monte Carlo p-values", Biometrika 78 (1991),
        301-304, from memory.
        """
        pieces = self._pieces(known)
        drawn = above = 0
        while drawn < DRAWS and above < ENOUGH:
            some = draws(self._results, pieces, spread=self._spread, count=AT_ONCE, rng=self._rng)
            some.data *= self._weight[some.indices]
            above += evidence.draws_as_strong(some, most)
            drawn += AT_ONCE
        return (1 + above) / (1 + drawn)


class Tables:
    """What is said of each exposure, by its number; worked out when it is asked for.

    Attributes:
        p: One an exposure, as of `ExposureTable`.
    """

    def __init__(
        self, results: Results, exposures: csr_array, causes: tuple[int, ...], inflation: float
    ) -> None:
        self._results = results
        self._causes = causes
        self._inflation = inflation
        self._with_it = csr_array(
            ((exposures.data >= HALF).astype(np.float64), exposures.indices, exposures.indptr),
            shape=exposures.shape,
        )
        self._counts = _by_stratum(results, self._with_it, results.test)
        self.p = exact_chances(self._counts, inflation=inflation)
        self._false_share = adjusted_for_many(self.p)

    def __getitem__(self, number: int) -> ExposureTable:
        """Of one exposure."""
        strata = [counts.of(number) for counts in self._counts]
        return ExposureTable(
            table=together(strata),
            ratio=risk_ratio(*strata, inflation=self._inflation),
            p=self.p[number],
            false_share=self._false_share[number],
            left=self._left(number),
        )

    def _left(self, number: int) -> float | None:
        """Its risk ratio among pieces alike in the other causes."""
        strata = self._results.test.copy()
        for cause in self._causes:
            if cause != number:
                strata = 2 * strata + self._with_it[[cause]].toarray()[0]
        alike = _by_stratum(self._results, self._with_it[[number]], strata)
        return risk_ratio_within([counts.of(0) for counts in alike])


def _by_stratum(
    results: Results, with_it: csr_array, strata: npt.NDArray[np.int64]
) -> list[Counts]:
    """The counts of the exposures, a stratum each: as whole pieces, none failed untested."""
    found = []
    for stratum in np.unique(strata):
        here = strata == stratum
        tested, failed = results.tested * here, results.failed * here
        all_tested, all_failed = math.ceil(tested.sum()), round(failed.sum())
        tested_with = np.minimum(np.rint(with_it @ tested).astype(np.int64), all_tested)
        failed_with = np.clip(
            np.rint(with_it @ failed).astype(np.int64),
            np.maximum(0, all_failed - (all_tested - tested_with)),
            np.minimum(all_failed, tested_with),
        )
        found.append(
            Counts(failed_with, tested_with, all_failed - failed_with, all_tested - tested_with)
        )
    return found
