"""What share of a next run will be good, as far as past runs tell.

Runs differ from one another by more than chance, so good pieces of a run are beta-binomial: each
run has a yield of its own, drawn around the stage's mean. Mean and spread are both uncertain while
runs are few, and that is counted in. Statistics are `float`.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any, Final, NamedTuple

PRIOR_PIECES: Final = 20.0
"""A stage without runs is taken to yield what its bill plans, as unsure as after so many pieces; no
source."""

PLANNED_WITHIN: Final = (0.5, 0.98)
"""No plan is believed beyond that before there are runs."""

ALIKE_WITHIN: Final = (1e-4, 0.3)
"""How alike the pieces of a run are, before runs tell (intraclass correlation): any order of size
between is as likely as any other; no source."""


SHARE_PARTS: Final = 1000
"""A share of good pieces is told to a thousandth: runs tell it no better."""

PARTS: Final = 8
WEIGHT_MIN: Final = 1e-3


class RunCount(NamedTuple):
    """Pieces worked on in a run, above 0, and those of them that were good."""

    worked: int
    good: int


class Beta(NamedTuple):
    """A beta distribution of yields, and its weight among others.

    Attributes:
        mean: Above 0, below 1; or 1 for what is never scrapped.
        alike: Intraclass correlation, 0 to below 1: 0 if every run has the mean for its yield.
    """

    mean: float
    alike: float = 0.0
    weight: float = 1.0

    @property
    def shape(self) -> tuple[float, float]:
        """The two parameters of the distribution; `alike` is above 0."""
        pieces = (1 - self.alike) / self.alike
        return self.mean * pieces, (1 - self.mean) * pieces


class Yield(NamedTuple):
    """The yield of a next run: a mixture of beta distributions, whose weights add up to 1."""

    parts: tuple[Beta, ...]

    @property
    def mean(self) -> float:
        """Its mean."""
        return sum(part.weight * part.mean for part in self.parts)

    @property
    def sd(self) -> float:
        """Its standard deviation, chance among the pieces of a run aside."""
        square = sum(
            part.weight * (part.mean**2 + part.mean * (1 - part.mean) * part.alike)
            for part in self.parts
        )
        return float(max(square - self.mean**2, 0.0) ** 0.5)


def next_yield(runs: Sequence[RunCount], *, planned: float) -> Yield:
    """The yield of a next run.

    Mean and likeness on a grid, weighed by the runs' beta-binomial likelihood. For each of some
    ranges of likeness one beta distribution of the same mean and variance: one for all of them
    would make the rare bad run rarer than it is.

    Args:
        runs: Past ones, in any order.
        planned: Yield that the bill plans, above 0 to 1.
    """
    import numpy as np  # noqa: PLC0415 - heavy, and not needed to start
    from scipy.special import betaln, expit  # noqa: PLC0415 - as above

    low, high = PLANNED_WITHIN
    believed = min(max(planned, low), high)
    logit = np.linspace(-5, 14, 191)[:, None]
    mean, lost = expit(logit), expit(-logit)
    edges = np.geomspace(*ALIKE_WITHIN, 3 * PARTS + 1)
    alike = np.sqrt(edges[:-1] * edges[1:])[None, :]
    # The grid is even in the logit of the mean: its density takes the slope of that along.
    log_weight: Any = PRIOR_PIECES * (
        believed * np.log(mean) + (1 - believed) * np.log(lost)
    ) + np.zeros_like(alike)
    pieces = (1 - alike) / alike
    a, b = mean * pieces, lost * pieces
    for worked, good in runs:
        log_weight = log_weight + betaln(a + good, b + worked - good) - betaln(a, b)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    ranges = np.array_split(np.arange(alike.size), PARTS)
    parts = [_matched(weight[:, each], mean, alike[:, each]) for each in ranges]
    kept = [part for part in parts if part.weight > WEIGHT_MIN]
    all_kept = sum(part.weight for part in kept)
    return Yield(tuple(part._replace(weight=part.weight / all_kept) for part in kept))


def plain_yield(runs: Sequence[RunCount], *, planned: Fraction) -> Fraction:
    """Good pieces a started piece, on average: of past runs, the plan counting as so many pieces.

    To the nearest thousandth, at least one. For plans of a whole shop, where `next_yield` of every
    item would take too long and only the mean is asked for.

    Args:
        runs: Past ones, in any order.
        planned: Yield that the bill plans, above 0 to 1.

    Source: beta-binomial mean, A. Gelman et al., Bayesian Data Analysis, ch. 2 (from memory); the
    weight of the plan has no source.
    """
    prior = Fraction(PRIOR_PIECES)
    good = prior * planned + sum(run.good for run in runs)
    share = good / (prior + sum(run.worked for run in runs))
    return Fraction(max(1, round(share * SHARE_PARTS)), SHARE_PARTS)


def _matched(weight: Any, mean: Any, alike: Any) -> Beta:
    """The beta distribution with the mean and variance of a part of the grid."""
    total = float(weight.sum())
    first = float((weight * mean).sum()) / total
    second = float((weight * (mean**2 + mean * (1 - mean) * alike)).sum()) / total
    return Beta(first, (second - first**2) / (first * (1 - first)), total)
