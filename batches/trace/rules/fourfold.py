"""Two-by-two tables of pieces tested and failed, with and without an exposure.

Pieces of one entry are alike: `inflation` says how much more such counts vary than single pieces
would, and widens what is said of them. Without it (1) the textbook's figures come out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

Z_95: Final = 1.959963984540054
"""Normal quantile of 97.5 %."""
_HALF: Final = 0.5
_NOTHING: Final = 1e-17
"""A term so much smaller than the sum adds nothing to it."""
_MISSED: Final = 0.05
"""How often a test to tell two exposures apart may show nothing although there is something."""


@dataclass(frozen=True, slots=True)
class Fourfold:
    """Pieces, each at least 0; no more failed than tested.

    Attributes:
        failed_with: Failed, of those with the exposure.
        tested_with: Tested, with it.
        failed_without: Failed, of all others.
        tested_without: Tested, without it.
    """

    failed_with: int
    tested_with: int
    failed_without: int
    tested_without: int

    def __post_init__(self) -> None:
        assert 0 <= self.failed_with <= self.tested_with
        assert 0 <= self.failed_without <= self.tested_without

    @property
    def rate_with(self) -> float | None:
        """Share failed with the exposure, 0 to 1; None when none was tested."""
        return self.failed_with / self.tested_with if self.tested_with else None

    @property
    def rate_without(self) -> float | None:
        """Share failed without it; None when none was tested."""
        return self.failed_without / self.tested_without if self.tested_without else None


@dataclass(frozen=True, slots=True)
class Ratio:
    """A risk ratio and its 95 % interval; `high` may be infinite."""

    value: float
    low: float
    high: float


def risk_ratio(table: Fourfold, *, inflation: float = 1.0) -> Ratio | None:
    """How many times as often pieces fail with the exposure; None where either side is untested.

    With a zero in either count of failures, a half is added to all four counts: the ratio is then
    a guess that its interval shows to be one.

    Args:
        table: The counts.
        inflation: Variance of such counts over that of single pieces, >= 1.

    Source: D. Katz et al., Biometrics 34 (1978), 469-474, the log method; the half is J. B. S.
    Haldane's and F. J. Anscombe's (1956).
    """
    assert inflation >= 1
    if not table.tested_with or not table.tested_without:
        return None
    add = 0.0 if table.failed_with and table.failed_without else _HALF
    failed_with, failed_without = table.failed_with + add, table.failed_without + add
    tested_with, tested_without = table.tested_with + 2 * add, table.tested_without + 2 * add
    ratio = (failed_with / tested_with) / (failed_without / tested_without)
    variance = 1 / failed_with - 1 / tested_with + 1 / failed_without - 1 / tested_without
    reach = math.exp(Z_95 * math.sqrt(max(variance, 0.0) * inflation))
    return Ratio(ratio, ratio / reach, ratio * reach)


def exact_p(table: Fourfold, *, inflation: float = 1.0) -> float:
    """Chance of as many failures with the exposure, or more, if it did nothing (one-sided).

    Counts that vary more than single pieces do are first made as many times smaller, and rounded
    against the exposure.

    Source: R. A. Fisher, The Design of Experiments (1935), chapter 2.
    """
    assert inflation >= 1
    failed_with = math.floor(table.failed_with / inflation)
    failed_without = math.ceil(table.failed_without / inflation)
    tested_with = max(round(table.tested_with / inflation), failed_with)
    tested_without = max(round(table.tested_without / inflation), failed_without)
    return _upper_tail(
        failed_with,
        drawn=tested_with,
        marked=failed_with + failed_without,
        total=tested_with + tested_without,
    )


def _upper_tail(count: int, *, drawn: int, marked: int, total: int) -> float:
    """Chance that of `drawn` out of `total` at least `count` are marked.

    Summed outwards from `count`, away from the middle, until nothing is added. The library's
    function says the same in half a millisecond; a year has ten thousand lots to ask for.
    """
    least, most = max(0, drawn + marked - total), min(drawn, marked)
    if count <= least:
        return 1.0
    is_high = count * total > drawn * marked
    place = count if is_high else count - 1
    term = math.exp(
        _log_ways(marked, place)
        + _log_ways(total - marked, drawn - place)
        - _log_ways(total, drawn)
    )
    tail = term
    while place != (most if is_high else least) and term > tail * _NOTHING:
        above = place + 1 if is_high else place
        # How many times as likely as one fewer.
        times = (
            (marked - above + 1) * (drawn - above + 1) / above / (total - marked - drawn + above)
        )
        term = term * times if is_high else term / times
        place += 1 if is_high else -1
        tail += term
    return min(1.0, tail) if is_high else max(0.0, 1 - tail)


def _log_ways(total: int, drawn: int) -> float:
    return math.lgamma(total + 1) - math.lgamma(drawn + 1) - math.lgamma(total - drawn + 1)


def adjusted_for_many(p_values: Sequence[float]) -> list[float]:
    """Smallest share of false finds among those as strong, for each of many p-values, in order.

    Source: Y. Benjamini and Y. Hochberg, J. R. Statist. Soc. B 57 (1995), 289-300.
    """
    order = sorted(range(len(p_values)), key=p_values.__getitem__, reverse=True)
    found = [1.0] * len(p_values)
    least = 1.0
    for rank, place in zip(range(len(p_values), 0, -1), order, strict=True):
        least = min(least, p_values[place] * len(p_values) / rank)
        found[place] = least
    return found


def risk_ratio_within(strata: Sequence[Fourfold]) -> float | None:
    """The risk ratio with like compared to like, stratum by stratum; None where nothing compares.

    Source: N. Mantel and W. Haenszel (1959), as a risk ratio by K. J. Rothman, Modern Epidemiology.
    """
    both = [each for each in strata if each.tested_with and each.tested_without]
    over = sum(
        each.failed_with * each.tested_without / (each.tested_with + each.tested_without)
        for each in both
    )
    under = sum(
        each.failed_without * each.tested_with / (each.tested_with + each.tested_without)
        for each in both
    )
    return over / under if under else None


def pieces_to_tell(rate: float) -> int:
    """Pieces to test with one of two tied exposures and without the other.

    So many that, if it is the cause, at least one fails in 19 of 20 such tests.

    Args:
        rate: Share of pieces that fail by the cause, 0 < rate <= 1.
    """
    assert 0 < rate <= 1
    if rate == 1:
        return 1
    return math.ceil(math.log(_MISSED) / math.log1p(-rate))
