"""Two-by-two tables of pieces tested and failed, with and without an exposure.

Pieces of one entry are alike: `inflation` says how much more such counts vary than single pieces
would, and widens what is said of them. Without it (1) the textbook's figures come out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Final, NamedTuple

Z_95: Final = 1.959963984540054
"""Normal quantile of 97.5 %."""
_HALF: Final = 0.5
_NOTHING: Final = 1e-17
"""A term so much smaller than the sum adds nothing to it."""
_UNLIKELY: Final = 1e-20
"""Counts less likely than that are left out, where the sum of the others is far above it."""
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


def together(strata: Sequence[Fourfold]) -> Fourfold:
    """The counts of several tables as one."""
    if len(strata) == 1:
        return strata[0]
    return Fourfold(
        sum(each.failed_with for each in strata),
        sum(each.tested_with for each in strata),
        sum(each.failed_without for each in strata),
        sum(each.tested_without for each in strata),
    )


@dataclass(frozen=True, slots=True)
class Ratio:
    """A risk ratio and its 95 % interval; `high` may be infinite."""

    value: float
    low: float
    high: float


def risk_ratio(*strata: Fourfold, inflation: float = 1.0) -> Ratio | None:
    """How many times as often pieces fail with the exposure; None where nothing compares.

    Of several tables like is compared to like, table by table. With a zero in either sum of
    failures, a half is added to all four counts of each: the ratio is then a guess that its
    interval shows to be one.

    Args:
        strata: The counts, of one kind of test each.
        inflation: Variance of such counts over that of single pieces, >= 1.

    Source: N. Mantel and W. Haenszel (1959), with the interval of S. Greenland and J. M. Robins,
    Biometrics 41 (1985), 55-68. Of one table it is the log method of D. Katz et al., Biometrics 34
    (1978), 469-474; the half is J. B. S. Haldane's and F. J. Anscombe's (1956).
    """
    assert inflation >= 1
    both = [each for each in strata if each.tested_with and each.tested_without]
    if not both:
        return None
    is_known = any(each.failed_with for each in both) and any(each.failed_without for each in both)
    add = 0.0 if is_known else _HALF
    over = under = spread = 0.0
    for each in both:
        failed_with, failed_without = each.failed_with + add, each.failed_without + add
        tested_with, tested_without = each.tested_with + 2 * add, each.tested_without + 2 * add
        share_with = tested_with / (tested_with + tested_without)
        share_without = 1 - share_with
        over += failed_with * share_without
        under += failed_without * share_with
        spread += (failed_with + failed_without) * share_with * share_without
        spread -= failed_with * failed_without / (tested_with + tested_without)
    ratio = over / under
    reach = math.exp(Z_95 * math.sqrt(max(spread, 0.0) / over / under * inflation))
    return Ratio(ratio, ratio / reach, ratio * reach)


def exact_p(*strata: Fourfold, inflation: float = 1.0) -> float:
    """Chance of as many failures with the exposure, or more, if it did nothing (one-sided).

    Of several tables it is that of their sum, with the failures of each as many as they are. Counts
    that vary more than single pieces do are first made as many times smaller, and rounded against
    the exposure.

    Source: R. A. Fisher, The Design of Experiments (1935), chapter 2.
    """
    assert inflation >= 1
    count = 0
    urns = []
    for table in strata:
        failed_with = math.floor(table.failed_with / inflation)
        failed_without = math.ceil(table.failed_without / inflation)
        tested_with = max(round(table.tested_with / inflation), failed_with)
        tested_without = max(round(table.tested_without / inflation), failed_without)
        urn = _Urn(tested_with, failed_with + failed_without, tested_with + tested_without)
        if urn.least == urn.most:  # it could not have come otherwise
            continue
        count += failed_with
        urns.append(urn)
    if count <= sum(urn.least for urn in urns):
        return 1.0
    if len(urns) == 1:
        return _upper_tail(count, urns[0])
    return _upper_tail_of_sum(count, urns)


class _Urn(NamedTuple):
    """Of `total` pieces, `marked` failed and `drawn` had the exposure."""

    drawn: int
    marked: int
    total: int

    @property
    def least(self) -> int:
        """Fewest of the drawn that can be marked."""
        return max(0, self.drawn + self.marked - self.total)

    @property
    def most(self) -> int:
        """Most of them."""
        return min(self.drawn, self.marked)

    def chance(self, count: int) -> float:
        """That so many of the drawn are marked."""
        return math.exp(
            _log_ways(self.marked, count)
            + _log_ways(self.total - self.marked, self.drawn - count)
            - _log_ways(self.total, self.drawn)
        )

    def times(self, count: int) -> float:
        """How many times as likely so many are as one fewer."""
        left = self.total - self.marked - self.drawn + count
        return (self.marked - count + 1) * (self.drawn - count + 1) / count / left

    def chances(self, least: float) -> tuple[int, list[float]]:
        """Of counts in a row, none of the others as likely as `least`; the first of them too."""
        drawn, marked, left = self.drawn, self.marked, self.total - self.marked - self.drawn
        middle = (drawn + 1) * (marked + 1) // (self.total + 2)
        middle = min(max(middle, self.least), self.most)
        up = [term := self.chance(middle)]
        for count in range(middle + 1, self.most + 1):
            term *= (marked - count + 1) * (drawn - count + 1) / count / (left + count)
            if term < least:
                break
            up.append(term)
        down = [term := up[0]]
        for count in range(middle, self.least, -1):
            term /= (marked - count + 1) * (drawn - count + 1) / count / (left + count)
            if term < least:
                break
            down.append(term)
        return middle - len(down) + 1, down[:0:-1] + up


def _upper_tail(count: int, urn: _Urn) -> float:
    """Chance that at least `count` of the drawn are marked.

    Summed outwards from `count`, away from the middle, until nothing is added. The library's
    function says the same in half a millisecond.
    """
    if count <= urn.least:
        return 1.0
    is_high = count * urn.total > urn.drawn * urn.marked
    place = count if is_high else count - 1
    end = urn.most if is_high else urn.least
    term = urn.chance(place)
    tail = term
    while place != end and term > tail * _NOTHING:
        times = urn.times(place + 1 if is_high else place)
        term = term * times if is_high else term / times
        place += 1 if is_high else -1
        tail += term
    return min(1.0, tail) if is_high else max(0.0, 1 - tail)


def _upper_tail_of_sum(count: int, urns: Sequence[_Urn]) -> float:
    """Chance that at least `count` are marked of all that are drawn, from each urn its own."""
    tail = _summed_tail(count, urns, _UNLIKELY)
    return tail if tail > _UNLIKELY**0.5 else _summed_tail(count, urns, 0.0)


def _summed_tail(count: int, urns: Sequence[_Urn], least: float) -> float:
    found = [urn.chances(least) for urn in urns]
    above = count - sum(first for first, _ in found)
    chances = found[0][1]
    for _, more in found[1:-1]:
        both = [0.0] * (len(chances) + len(more) - 1)
        for place, chance in enumerate(chances):
            for step, other in enumerate(more, place):
                both[step] += chance * other
        chances = both
    tails = list(accumulate(reversed(found[-1][1]), initial=0.0))
    tails.reverse()  # of at least 0, 1, 2 ... of the last urn above its first, and one too many
    start = max(0, above - len(tails) + 1)
    end = max(0, min(above, len(chances)))
    tail = sum(chances[end:]) * tails[0]
    tail += sum(chances[place] * tails[above - place] for place in range(start, end))
    return min(1.0, tail)


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
