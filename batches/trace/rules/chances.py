"""The exact chances of the counts of ten thousand exposures at once: arrays of `fourfold.exact_p`.

Nearly all exposures are lots with a few failures and are no rarity: the chance of fewer failures is
the sum of a few terms, and little is lost by taking it from 1. What is left is asked of `exact_p`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import gammaln

from batches.trace.rules.fourfold import Fourfold, exact_p

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

_FEW: Final = 30
"""Failures above the fewest that there can be."""
_USUAL: Final = 0.01
"""A chance above this keeps eight digits if it is what is left of 1."""
_TINY: Final = 1e-250


@dataclass(frozen=True, slots=True, eq=False)
class Counts:
    """Of one kind of test; of each exposure the counts of a `Fourfold`, (exposures,) each."""

    failed_with: Whole
    tested_with: Whole
    failed_without: Whole
    tested_without: Whole

    def of(self, number: int) -> Fourfold:
        """Those of one exposure."""
        return Fourfold(
            int(self.failed_with[number]),
            int(self.tested_with[number]),
            int(self.failed_without[number]),
            int(self.tested_without[number]),
        )


def exact_chances(strata: Sequence[Counts], *, inflation: float) -> list[float]:
    """What `exact_p` says of each exposure.

    Args:
        strata: The counts, of one kind of test each.
        inflation: As there.
    """
    below = np.zeros(len(strata[0].failed_with), dtype=np.int64)
    chances = np.zeros((len(below), _FEW))
    chances[:, 0] = 1.0
    is_told = np.ones(len(below), dtype=bool)
    for counts in strata:
        failed_with = np.floor(counts.failed_with / inflation).astype(np.int64)
        failed_without = np.ceil(counts.failed_without / inflation).astype(np.int64)
        drawn = np.maximum(_rounded(counts.tested_with / inflation), failed_with)
        left = np.maximum(_rounded(counts.tested_without / inflation), failed_without)
        lowest, least = _lowest(drawn, failed_with + failed_without, drawn + left)
        below += failed_with - least
        is_told &= lowest[:, 0] > _TINY
        both = np.zeros_like(chances)
        for step in range(_FEW):
            both[:, step:] += chances[:, : _FEW - step] * lowest[:, step : step + 1]
        chances = both
    tails = 1 - np.where(np.arange(_FEW) < below[:, None], chances, 0.0).sum(axis=1)
    is_told &= (below <= _FEW) & (tails > _USUAL)
    tails[below <= 0] = 1.0
    found: list[float] = np.minimum(1.0, tails).tolist()
    for number in np.flatnonzero(~is_told & (below > 0)).tolist():
        found[number] = exact_p(*(counts.of(number) for counts in strata), inflation=inflation)
    return found


def _rounded(values: Floats) -> Whole:
    return np.rint(values).astype(np.int64)


def _lowest(drawn: Whole, marked: Whole, total: Whole) -> tuple[Floats, Whole]:
    """Chances of the fewest of the drawn that can be marked, and of more; and how many these are.

    Of `total` pieces, `marked` failed and `drawn` had the exposure.
    """
    left = total - marked - drawn
    least = np.maximum(0, -left)
    count = least[:, None] + np.arange(1, _FEW)
    times = (marked[:, None] - count + 1) * (drawn[:, None] - count + 1) / count
    times /= left[:, None] + count
    logs = _log_ways(marked, least) + _log_ways(total - marked, drawn - least)
    first = np.exp(logs - _log_ways(total, drawn))
    # Past the most that can be marked one factor is 0, and so all that follow are.
    return np.cumprod(np.column_stack([first, times]), axis=1), least


def _log_ways(total: Whole, drawn: Whole) -> Floats:
    said = gammaln(total + 1.0) - gammaln(drawn + 1.0) - gammaln(total - drawn + 1.0)
    return np.asarray(said, dtype=np.float64)
