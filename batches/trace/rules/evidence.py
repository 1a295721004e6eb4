"""How strongly test results speak for each exposure, and for which of them they speak equally.

An exposure is anything a tested piece went through: a lot it came of, a station it was glued at, a
person, a shift; or a quantity such as the adhesive's age. Failures are rare, so they are taken as
Poisson counts: a cell of pieces with the same exposures fails at a common rate, times a ratio where
the exposure is at work. Neither is known; both are averaged over (a Gamma law and a few ratios), so
that an exposure of few pieces claims no more than its pieces can tell. Two exposures add their
excess. Entries vary more than single pieces do; that is measured and weighs them down.

Everything is float, for ranking and chances only. Source of the averaging: R. E. Kass and A. E.
Raftery, "Bayes Factors", J. Amer. Statist. Assoc. 90 (1995), 773-795.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array
from scipy.special import logsumexp

Floats = npt.NDArray[np.float64]

RATIOS: Final[Floats] = np.geomspace(1.5, 100.0, 12)
"""How many times as often pieces fail where an exposure is at work: each as likely beforehand."""
RATE_SHAPE: Final = 0.5
RATE_PIECES: Final = 50.0
"""The common rate beforehand: half a failure in fifty pieces, which any shop's results outweigh."""
_A_LITTLE: Final = 1e-9
"""So that rounding loses none."""


@dataclass(frozen=True, slots=True, eq=False)
class Results:
    """Pieces tested, in cells of one entry, one kind of test and the same exposures.

    Attributes:
        tested: (cells,) pieces, > 0; not whole ones where pieces of a box were shared out.
        failed: (cells,) pieces, 0 to tested.
        entry: (cells,) number of the entry that each cell is of, from 0.
        test: (cells,) number of the kind of test, from 0, none left out.
    """

    tested: Floats
    failed: Floats
    entry: npt.NDArray[np.int64]
    test: npt.NDArray[np.int64]

    @property
    def entries(self) -> int:
        """How many entries there are."""
        return int(self.entry.max()) + 1 if len(self.entry) else 0

    def by_entry(self, values: Floats) -> Floats:
        """(entries,) sums of what the cells have."""
        sums = np.bincount(self.entry, weights=values, minlength=self.entries)
        return sums.astype(np.float64)

    def evened(self, pieces: Floats) -> Floats:
        """(cells,) pieces, each counted as often as its kind of test finds a failure.

        So kinds of test are not compared with each other. Their sum stays; of one kind, all does.
        """
        failed = np.bincount(self.test, weights=self.failed)
        of_test = np.bincount(self.test, weights=pieces)
        times = (failed / of_test) / (failed.sum() / of_test.sum())
        return np.asarray(pieces * times[self.test], dtype=np.float64)


class Evidence:
    """What the results say of every exposure, beside pieces that are expected to fail alike.

    Args:
        exposures: (exposures, cells) from 0, not at work, to 1, fully at work.
        pieces: (cells,) pieces tested, times what other causes already do to them.
        failed: (cells,) pieces failed.
    """

    def __init__(self, exposures: csr_array, pieces: Floats, failed: Floats) -> None:
        self._exposures = exposures
        self._by_cell = exposures.T
        self._failed = failed
        self._total = float(pieces.sum())
        self._weights = _weights(exposures, pieces)
        self._pieces = np.log((RATE_PIECES + self._weights) / (RATE_PIECES + self._total))

    def of_each(self) -> Floats:
        """(exposures,) natural log of how many times as likely they make the results."""
        shape = RATE_SHAPE + float(self._failed.sum())
        logs = np.log(RATIOS) * (self._exposures @ self._failed)[:, None] - shape * self._pieces
        return np.asarray(logsumexp(logs, axis=1) - np.log(len(RATIOS)), dtype=np.float64)

    def draws_as_strong(self, drawn: csr_array, most: float) -> int:
        """How many of made-up results make any exposure as likely as that, or more.

        Args:
            drawn: (draws, cells) failures.
            most: A natural log, as of `of_each`.
        """
        at_work = (drawn @ self._by_cell).toarray()
        shape = RATE_SHAPE + drawn.sum(axis=1)
        # No average is above the largest of what it is of. That needs so many failures at work,
        # the fewer the fewer there are in all; nearly all exposures have not.
        needed = (most + shape.min() * self._pieces) / np.log(RATIOS)
        rows, columns = np.nonzero(at_work >= needed.min(axis=1) - _A_LITTLE)
        logs = (
            np.log(RATIOS) * at_work[rows, columns][:, None]
            - shape[rows][:, None] * self._pieces[columns]
        )
        is_as_strong = logsumexp(logs, axis=1) - np.log(len(RATIOS)) >= most
        return len(np.unique(rows[is_as_strong]))

    def best_ratio(self, number: int) -> float:
        """The ratio that suits one exposure best."""
        at_work = float((self._exposures[[number]] @ self._failed)[0])
        shape = RATE_SHAPE + float(self._failed.sum())
        logs = at_work * np.log(RATIOS) - shape * np.log(RATE_PIECES + self._weights[number])
        return float(RATIOS[np.argmax(logs)])

    def of_pairs(self, numbers: npt.NDArray[np.int64]) -> Floats:
        """(numbers, numbers) log evidence of each two at once; the diagonal is minus infinity.

        Memory for numbers x ratios x cells that failed.
        """
        where = np.flatnonzero(self._failed)
        failed = self._failed[where]
        shape = RATE_SHAPE + float(failed.sum())
        shares = self._exposures[numbers][:, where].toarray()
        found = np.full((len(numbers), len(numbers)), -np.inf)
        coarse = range(0, len(RATIOS), 2)
        times = {each: RATIOS[each] ** shares for each in coarse}
        for place, number in enumerate(numbers):
            logs = []
            for one in coarse:
                for other in coarse:
                    both = np.log(times[one][place] + times[other] - 1) @ failed
                    pieces = (
                        self._weights[number, one] + self._weights[numbers, other] - self._total
                    )
                    logs.append(
                        both - shape * np.log((RATE_PIECES + pieces) / (RATE_PIECES + self._total))
                    )
            found[place] = logsumexp(logs, axis=0) - np.log(len(logs))
            found[place, place] = -np.inf
        return found


def _weights(exposures: csr_array, pieces: Floats) -> Floats:
    """(exposures, ratios) pieces, each counted as often as it fails under a ratio."""
    # Nearly all are wholly at work, where a ratio is no power of anything: only ages are not.
    is_part = exposures.data < 1
    of_cells = pieces[exposures.indices]
    rows = np.repeat(np.arange(exposures.shape[0]), np.diff(exposures.indptr))
    whole = np.bincount(rows[~is_part], weights=of_cells[~is_part], minlength=exposures.shape[0])
    rows, shares, of_cells = rows[is_part], exposures.data[is_part], of_cells[is_part]
    found = float(pieces.sum()) + np.outer(whole, RATIOS - 1)
    for place, ratio in enumerate(RATIOS):
        more = (ratio**shares - 1) * of_cells
        found[:, place] += np.bincount(rows, weights=more, minlength=exposures.shape[0])
    return found


def times_at_work(exposures: csr_array, number: int, ratio: float) -> Floats:
    """(cells,) how many times as often they fail by one exposure."""
    share = exposures[[number]].toarray()[0]
    return np.asarray(ratio**share, dtype=np.float64)


def spread_of_entries(results: Results, expected: Floats) -> float:
    """Variance of the entries' own rates over their mean squared; 0 when they vary by chance.

    Args:
        results: The counts.
        expected: (cells,) failures expected.

    Source: moments of a Gamma-mixed Poisson count, as for the negative binomial.
    """
    failed = results.by_entry(results.failed.astype(np.float64))
    means = results.by_entry(expected)
    # A cause puts its failures into few entries: each counts by what it can tell.
    excess = (failed - means) ** 2 - means
    return float(max(0.0, excess.sum() / max((means**2).sum(), 1e-12)))


def draws(
    results: Results, pieces: Floats, *, spread: float, count: int, rng: np.random.Generator
) -> csr_array:
    """(count, cells) failures as chance alone would have them, of about as many in all.

    Args:
        results: Which cells are of which entry, and how many failed.
        pieces: (cells,) pieces tested, times what known causes do to them.
        spread: Of the entries' own rates, see `spread_of_entries`.
        count: How many to draw.
        rng: So that the same results give the same answer.
    """
    by_entry = results.by_entry(pieces)
    order = np.argsort(results.entry, kind="stable")
    edges = np.concatenate([[0.0], np.cumsum(pieces[order])])
    starts = np.concatenate([[0.0], np.cumsum(by_entry)])
    failed = float(results.failed.sum())
    rows, cells = [], []
    for number in range(count):
        weights = by_entry
        if spread > 0:
            weights = by_entry * rng.gamma(1 / spread, spread, len(by_entry))
        total = int(rng.poisson(failed * weights.sum() / by_entry.sum()))
        ends = np.cumsum(weights)
        entry = np.searchsorted(ends, rng.random(total) * ends[-1], side="right")
        entry = np.minimum(entry, len(by_entry) - 1)
        place = starts[entry] + rng.random(total) * by_entry[entry]
        found = np.searchsorted(edges, place, side="right") - 1
        cells.append(order[np.minimum(found, len(order) - 1)])
        rows.append(np.full(total, number))
    data = np.ones(sum(map(len, cells)))
    placed = (np.concatenate(rows), np.concatenate(cells))
    return csr_array((data, placed), shape=(count, len(pieces)))
