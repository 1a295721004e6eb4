"""Whether failures became more frequent, asked after every test of a defect.

A rise may have begun with any test: what came before it gives the usual rate, what came since is
the evidence. For each beginning that is how many times as likely a rise makes the failures since,
averaged over how large it may be; the sum over all beginnings is the odds. As long as nothing
changes they grow by at most one a test on average, so that a rise is seen by mistake at most once
in `ODDS_MIN` tests on average.

Source: the rule of A. N. Shiryaev and S. W. Roberts, as in M. Pollak, Ann. Statist. 13 (1985),
206-227, from memory. Ours are the usual rate, for which a bound is taken that it seldom exceeds,
and the averaging over ratios.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

ODDS_MIN: Final = 1000.0
"""At most one false alert in so many tests of a kind, on average."""
RATIOS: Final = (1.5, 2.0, 3.0, 5.0, 10.0, 20.0)
"""How many times as often pieces fail after a rise: each as likely beforehand."""
BOUND: Final = 0.95
"""The usual rate is taken to be one that it exceeds in 1 of 20 cases at most."""
LOG_MAX: Final = 700.0
"""Beyond it a float ends; as sure as that is sure enough."""


class Tested(NamedTuple):
    """A test: so many pieces, of which so many failed; `pieces` > 0, `failed` >= 0.

    Pieces are counts of pieces, or of whatever failures are in proportion to.
    """

    pieces: float
    failed: int


class Rise(NamedTuple):
    """How likely it is that failures became more frequent.

    Attributes:
        odds: That they did, at any time; from `ODDS_MIN` on they did.
        since: Index of the test with which it began most likely.
    """

    odds: float
    since: int

    @property
    def is_seen(self) -> bool:
        """Whether it is beyond chance."""
        return self.odds >= ODDS_MIN


def rise_of(tests: Sequence[Tested], *, first: int = 0) -> Rise:
    """The likeliest rise that goes on to the last of some tests.

    Args:
        tests: Oldest first, at least one.
        first: Index of the first test that it may have begun with.
    """
    assert tests
    before = _Before()
    for test in tests[:first]:
        before.add(test)
    pieces = sum(test.pieces for test in tests[first:])
    failed = sum(test.failed for test in tests[first:])
    odds, best, since = 0.0, -math.inf, first
    for place, test in enumerate(tests[first:], first):
        log = _log_likelihood(before, pieces=pieces, failed=failed)
        odds += math.exp(min(log, LOG_MAX))
        if log > best:
            best, since = log, place
        before.add(test)
        pieces -= test.pieces
        failed -= test.failed
    return Rise(odds, since)


class _Before:
    """What came before a rise, if it began here."""

    def __init__(self) -> None:
        self._tests = 0
        self._pieces = 0.0
        self._failed = 0
        self._squares = 0.0

    def add(self, test: Tested) -> None:
        """One test more."""
        self._tests += 1
        self._pieces += test.pieces
        self._failed += test.failed
        self._squares += test.failed**2 / test.pieces

    @property
    def rate(self) -> float:
        """A bound of the usual rate of failures; endless where nothing was tested."""
        from scipy.special import gammaincinv  # noqa: PLC0415 - heavy, and not needed to start

        if not self._pieces:
            return math.inf
        failed = self._failed / self.inflation
        return float(gammaincinv(failed + 1, BOUND)) / (self._pieces / self.inflation)

    @property
    def inflation(self) -> float:
        """How many times as much tests differ as single pieces would, >= 1.

        Pearson's chi-squared over its freedom.
        """
        if self._tests < 2 or not self._failed:  # noqa: PLR2004
            return 1.0
        squares = self._squares * self._pieces / self._failed - self._failed
        return max(1.0, squares / (self._tests - 1))


def _log_likelihood(before: _Before, *, pieces: float, failed: int) -> float:
    """How many times as likely a rise makes what came since, as a logarithm.

    As Poisson counts, which for pieces that pass or fail errs on the careful side.
    """
    rate, inflation = before.rate, before.inflation
    if math.isinf(rate):
        return -math.inf
    logs = [
        (failed * math.log(ratio) - (ratio - 1) * rate * pieces) / inflation for ratio in RATIOS
    ]
    most = max(logs)
    return most + math.log(sum(math.exp(log - most) for log in logs) / len(logs))
