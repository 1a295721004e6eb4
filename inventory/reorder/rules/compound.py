"""Use that comes seldom: a random number of uses, of sizes as they were on record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from inventory.reorder.rules.demand import Spread

    Floats = npt.NDArray[np.float64]
    Waves = npt.NDArray[np.complex128]

GRID: Final = 128
"""Steps up to an amount that is hardly ever used; four times as many change a point by 0.2 %."""

_POISSON_BELOW: Final = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Uses:
    """Days of use on record, of what is used seldom.

    The number of uses is negative binomial, so that the whole spreads as it should, or Poisson
    where the sizes alone spread it as much. Its distribution is made on a grid by the discrete
    Fourier transform.

    Source: P. Embrechts & M. Frei, Math. Methods of Oper. Research 69, 2009 (from memory).

    Attributes:
        sizes_base: (uses,) int64, > 0: at least one.
        is_unequal: Their sizes differ much, so that a larger one must be reckoned with.
    """

    sizes_base: npt.NDArray[np.int64]
    is_unequal: bool

    def waves(self, step_base: float) -> Waves:
        """The transform of one size on a grid."""
        import numpy as np  # noqa: PLC0415 - heavy, and not needed to start

        sizes = self._sizes_base() / step_base
        whole = sizes.astype(np.int64)
        # A size between two grid points is shared among them, so that the mean stays.
        chances = np.bincount(whole, 1 - (sizes - whole), 2 * GRID)
        chances += np.bincount(whole + 1, sizes - whole, 2 * GRID)
        return np.fft.rfft(chances / len(sizes))

    def covered(self, demand: Spread, waves: Waves) -> Floats:
        """P(D <= y) on the grid, y = 0 .. GRID - 1 steps."""
        import numpy as np  # noqa: PLC0415 - as above

        return np.fft.irfft(self._wave(demand, waves), 2 * GRID)[:GRID].cumsum()

    def short(self, before: Spread, until: Spread, waves: Waves, step_base: float) -> Floats:
        """E[D - y]+ of the use until then, less that of the use before: y = 0 .. GRID steps."""
        import numpy as np  # noqa: PLC0415 - as above

        more = self._wave(before, waves) - self._wave(until, waves)
        # Each falls from y to y + step by step x P(D > y).
        fallen = step_base * np.fft.irfft(more, 2 * GRID)[:GRID].cumsum().cumsum()
        return np.maximum(0.0, until.mean - before.mean - np.concatenate([[0.0], fallen]))

    def _wave(self, demand: Spread, waves: Waves) -> Waves:
        """The transform of a random number of uses."""
        import numpy as np  # noqa: PLC0415 - as above

        if demand.mean == 0:
            return np.ones_like(waves)
        sizes = self.sizes_base.astype(float)
        total = float(sizes.sum())
        over = demand.sd**2 / demand.mean - float(sizes @ sizes) / total
        over *= len(sizes) / total
        reckoned = self._sizes_base()
        count = demand.mean / float(reckoned.sum()) * len(reckoned)
        if over > _POISSON_BELOW:
            found: Waves = (1 + over * (1 - waves)) ** (-count / over)
            return found
        return np.exp(count * (waves - 1))

    def _sizes_base(self) -> npt.NDArray[np.int64]:
        """With one more: by symmetry the next is the largest with a chance of 1 in n + 1."""
        import numpy as np  # noqa: PLC0415 - as above

        if not self.is_unequal:
            return self.sizes_base
        return np.append(self.sizes_base, int(self.sizes_base.max() + self.sizes_base.mean()))


def compound_point(
    *, before: Spread, until: Spread, order_base: float, fill_rate: float, uses: Uses
) -> float:
    """Smallest point that keeps the fill rate; arguments as `service.gamma_point`."""
    import numpy as np  # noqa: PLC0415 - as above

    allowed = (1 - fill_rate) * (until.mean - before.mean)
    top = _top(until, uses)
    while True:
        step = top / GRID
        waves = uses.waves(step)
        short = uses.short(before, until, waves, step)
        # Area from every grid point up: the mean over (s, s + Q) is a difference of two.
        area = np.concatenate([((short[1:] + short[:-1]) / 2 * step)[::-1].cumsum()[::-1], [0.0]])
        at = np.arange(GRID + 1) * step
        mean = (area - np.interp(at + order_base, at, area, right=0.0)) / order_base
        least = int(np.append(mean <= allowed, True).argmax())
        if least < GRID:
            break
        top *= 2
    if least == 0:
        return 0.0
    return float(step * (least - (allowed - mean[least]) / (mean[least - 1] - mean[least])))


def compound_quantile(*, until: Spread, service_level: float, uses: Uses) -> float:
    """Smallest amount on the grid that covers use with the wanted probability."""
    top = _top(until, uses)
    while True:
        step = top / GRID
        is_enough = uses.covered(until, uses.waves(step)) >= service_level
        if is_enough.any():
            return float(step * int(is_enough.argmax()))
        top *= 2


def _top(until: Spread, uses: Uses) -> float:
    return until.mean + 8 * until.sd + 2 * float(uses.sizes_base.max())
