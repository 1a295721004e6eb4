"""How an item is used: how often, and in how unequal amounts."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

INTERVAL_LONG: Final = 1.32
"""Periods between uses from which use comes and goes."""

VARIATION_LARGE: Final = 0.49
"""Squared variation of the amounts from which they are unequal.

Both: A. A. Syntetos, J. E. Boylan & J. D. Croston, J. Oper. Res. Soc. 56, 2005 (cut-offs from
memory).
"""


class Pattern(StrEnum):
    """Often and alike, often and unequal, seldom and alike, seldom and unequal."""

    SMOOTH = "smooth"
    ERRATIC = "erratic"
    INTERMITTENT = "intermittent"
    LUMPY = "lumpy"


SELDOM: Final = (Pattern.INTERMITTENT, Pattern.LUMPY)


def intervals_and_variations(use: Floats) -> tuple[Floats, Floats]:
    """Of each item: periods over periods with use, and squared variation of the latter's amounts.

    Args:
        use: (items, periods) >= 0. Without any use the interval is infinite, the variation 0.
    """
    import numpy as np  # noqa: PLC0415 - heavy, and not needed to start

    is_used = use > 0
    times = is_used.sum(axis=1)
    with np.errstate(divide="ignore"):
        interval = np.where(times > 0, use.shape[1] / np.maximum(times, 1), np.inf)
    mean = use.sum(axis=1) / np.maximum(times, 1)
    variance = ((use - mean[:, None]) ** 2 * is_used).sum(axis=1) / np.maximum(times, 1)
    return interval, variance / np.maximum(mean, 1e-9) ** 2


def patterns(use: Floats) -> list[Pattern]:
    """Of each item."""
    return [
        _NAMED[bool(interval >= INTERVAL_LONG), bool(variation >= VARIATION_LARGE)]
        for interval, variation in zip(*intervals_and_variations(use), strict=True)
    ]


_NAMED: Final = {
    (False, False): Pattern.SMOOTH,
    (False, True): Pattern.ERRATIC,
    (True, False): Pattern.INTERMITTENT,
    (True, True): Pattern.LUMPY,
}
