"""How many pieces come out of runs, as chances: exactly for few, by even samples for many."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any, Final, Protocol

from batches.planning.rules.yields import Yield

if TYPE_CHECKING:
    from typing import Self

EXACT_MAX: Final = 250
"""Up to so many pieces to start, every number of them has its own chance."""

SAMPLES: Final = 1 << 14
"""Beyond, so many evenly spread samples tell a chance to about 0.001."""

_GONE: Final = 1e-13  # a chance that does not count


class Pieces(Protocol):
    """A number of pieces that is not known yet."""

    def plus(self, pieces: int) -> Self:
        """And so many that stand there."""

    def in_parts(self, part: Callable[[Any], Any]) -> Self:
        """What each number of pieces becomes; a larger one never becomes less."""

    def smaller(self, other: Self) -> Self:
        """The smaller of two that know nothing of one another."""

    def through(self, place: int, this: Yield) -> Self:
        """The good ones of a run; each run has its place."""

    def at_least(self, pieces: int) -> float:
        """The chance of so many or more."""

    def mean(self) -> float:
        """The mean."""

    def quantile(self, chance: float) -> int:
        """The number that is not passed with that chance."""


@dataclass(frozen=True, slots=True, eq=False)
class Exact:
    """Chances of `first`, `first` + 1 and so on."""

    first: int
    chances: Any

    def plus(self, pieces: int) -> Exact:
        """As in `Pieces`."""
        return Exact(self.first + pieces, self.chances)

    def in_parts(self, part: Callable[[Any], Any]) -> Exact:
        """As in `Pieces`."""
        import numpy as np  # noqa: PLC0415 - heavy, and not needed to start

        new = part(self._numbers())
        first = int(new[0])
        return Exact(first, np.bincount(new - first, weights=self.chances))

    def smaller(self, other: Exact) -> Exact:
        """As in `Pieces`."""
        import numpy as np  # noqa: PLC0415 - as above

        first = min(self.first, other.first)
        last = min(self.first + len(self.chances), other.first + len(other.chances))
        beyond = [each._beyond(first, last) for each in (self, other)]
        return Exact(first, -np.diff(beyond[0] * beyond[1], prepend=1.0)[1:])

    def through(self, place: int, this: Yield) -> Exact:
        """As in `Pieces`."""
        import numpy as np  # noqa: PLC0415 - as above

        worked = self._numbers()
        counts = self.chances > _GONE
        good = np.zeros(int(worked[-1]) + 1)
        for part in np.array_split(np.flatnonzero(counts), 1 + len(worked) // 256):
            good += self.chances[part] @ good_chances(worked[part], len(good), this)
        kept = np.flatnonzero(good > _GONE)
        return Exact(int(kept[0]), good[kept[0] : kept[-1] + 1])

    def at_least(self, pieces: int) -> float:
        """As in `Pieces`."""
        return float(self.chances[max(pieces - self.first, 0) :].sum())

    def mean(self) -> float:
        """As in `Pieces`."""
        return float(self._numbers() @ self.chances)

    def quantile(self, chance: float) -> int:
        """As in `Pieces`."""
        import numpy as np  # noqa: PLC0415 - as above

        at = int(np.searchsorted(np.cumsum(self.chances), chance))
        return self.first + min(at, len(self.chances) - 1)

    def _numbers(self) -> Any:
        import numpy as np  # noqa: PLC0415 - as above

        return np.arange(self.first, self.first + len(self.chances))

    def _beyond(self, first: int, last: int) -> Any:
        """The chance of n or more, for n from `first` to `last`."""
        import numpy as np  # noqa: PLC0415 - as above

        below = np.concatenate([[0.0], np.cumsum(self.chances)])
        at = np.clip(np.arange(first, last + 1) - self.first, 0, len(self.chances))
        return 1 - below[at]


@dataclass(frozen=True, slots=True, eq=False)
class Sampled:
    """Samples, alike in place: the same yields in all of them."""

    numbers: Any

    def plus(self, pieces: int) -> Sampled:
        """As in `Pieces`."""
        return Sampled(self.numbers + pieces)

    def in_parts(self, part: Callable[[Any], Any]) -> Sampled:
        """As in `Pieces`."""
        return Sampled(part(self.numbers))

    def smaller(self, other: Sampled) -> Sampled:
        """As in `Pieces`."""
        import numpy as np  # noqa: PLC0415 - as above

        return Sampled(np.minimum(self.numbers, other.numbers))

    def through(self, place: int, this: Yield) -> Sampled:
        """As in `Pieces`."""
        import numpy as np  # noqa: PLC0415 - as above

        share, noise = _drawn(place, this)
        good = self.numbers * share + noise * np.sqrt(self.numbers * share * (1 - share))
        return Sampled(np.clip(np.rint(good), 0, self.numbers))

    def at_least(self, pieces: int) -> float:
        """As in `Pieces`."""
        return float((self.numbers >= pieces).mean())

    def mean(self) -> float:
        """As in `Pieces`."""
        return float(self.numbers.mean())

    def quantile(self, chance: float) -> int:
        """As in `Pieces`."""
        import numpy as np  # noqa: PLC0415 - as above

        return int(np.quantile(self.numbers, chance))


def certain(pieces: int, *, is_exact: bool) -> Exact | Sampled:
    """So many, surely."""
    import numpy as np  # noqa: PLC0415 - as above

    return Exact(pieces, np.ones(1)) if is_exact else Sampled(np.full(SAMPLES, float(pieces)))


def good_chances(worked: Any, length: int, this: Yield) -> Any:
    """Chances of 0 to `length` - 1 good ones, one row for each number worked on, ascending.

    Beta-binomial, or binomial where all runs are alike.
    """
    import numpy as np  # noqa: PLC0415 - as above
    from scipy.special import betaln, gammaln, xlog1py, xlogy  # noqa: PLC0415 - as above

    row = np.asarray(worked)
    count = np.arange(max(int(row[-1]) + 1, length))
    bad = row[:, None] - count[None, :length]
    ways = gammaln(count + 1.0)
    chances = np.zeros(bad.shape)
    for part in this.parts:
        if part.alike:
            a, b = part.shape
            of_good, of_bad = gammaln(count + a), gammaln(count + b)
            of_row = ways[row] - gammaln(row + a + b) - betaln(a, b)
        else:
            of_good, of_bad = xlogy(count, part.mean), xlog1py(count, -part.mean)
            of_row = ways[row]
        # One look-up a cell: what depends on the good, on the bad, and on their sum alone.
        log_chance = of_row[:, None] + (of_good - ways)[None, :length] + (of_bad - ways)[bad]
        chances += part.weight * np.exp(np.where(bad >= 0, log_chance, -np.inf))
    return chances


@cache
def _even() -> Any:
    """Points in the unit cube, three dimensions a place, in each of them evenly spread.

    Source: a Latin hypercube sample (McKay, Beckman and Conover, Technometrics 1979), from memory.
    """
    import numpy as np  # noqa: PLC0415 - as above

    middles = (np.arange(SAMPLES) + 0.5) / SAMPLES
    mixed = np.random.default_rng(1)
    return np.stack([mixed.permutation(middles) for _ in range(3 * _PLACES)], axis=1)


_PLACES: Final = 24


@lru_cache(maxsize=2 * _PLACES)
def _drawn(place: int, this: Yield) -> tuple[Any, Any]:
    """A yield, and how far chance goes beyond it in standard deviations, for every sample."""
    import numpy as np  # noqa: PLC0415 - as above
    from scipy.special import betaincinv, ndtri  # noqa: PLC0415 - as above

    which, at, noise = _even()[:, 3 * (place % _PLACES) :][:, :3].T
    share = np.empty(SAMPLES)
    below = 0.0
    for part in this.parts:
        its = (which >= below) & (which < below + part.weight)
        share[its] = betaincinv(*part.shape, at[its]) if part.alike else part.mean
        below += part.weight
    share[which >= below] = this.mean  # the weights add up to 1 but for rounding
    return share, ndtri(noise)


def smallest(numbers: Sequence[Any]) -> Any:
    """The smallest of several."""
    found = numbers[0]
    for each in numbers[1:]:
        found = found.smaller(each)
    return found
