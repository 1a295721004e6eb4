"""Forecasts of many items at once, each by the method that did best in its own past.

Weeks throughout, the last ending yesterday. A method is a weighting of the past; most are one
column of weights, so a forecast from any week is a product of matrices. How well a method does is
measured where it has not looked: it forecasts from weeks of the past (rolling origin) and is held
against what then came, over the weeks that an order takes.

Sources: exponential smoothing with a normalized start, R. G. Brown, Statistical Forecasting for
Inventory Control, 1959; trend by discounted least squares, R. G. Brown, Smoothing, Forecasting and
Prediction, 1963; J. D. Croston, Oper. Res. Quarterly 23, 1972, with the correction of A. A.
Syntetos & J. E. Boylan, Int. J. Forecasting 21, 2005; shrinking of the season's waves, W. James &
C. Stein, 1961 (all from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from inventory.reorder.rules.forecast import (
    DAYS_PER_WEEK,
    WEEKS_AHEAD,
    YEAR_WEEKS,
    Forecast,
    Method,
)
from inventory.reorder.rules.pattern import SELDOM, Pattern, patterns

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

WEEKS_LEAST: Final = 26
"""Half a year: with less, there is nothing to choose a method by."""

SEASON_WEEKS_LEAST: Final = 104
"""Two years: with less, a season seen once may be chance."""

_WAVES: Final = 2
_ORIGIN_STEP_WEEKS: Final = 4
_DAMPING: Final = 0.95  # of a trend, a week; common practice, no source
_INDEX_LEAST: Final = 0.05


PLAIN: Final = (Method.MEAN, Method.YEAR, Method.SLOW, Method.QUICK, Method.TREND, Method.CROSTON)
SEASONAL: Final = (Method.SEASON, Method.SEASON_SLOW, Method.SEASON_TREND)

_MARGIN: Final = {
    Method.MEAN: 1.0,
    Method.YEAR: 1.1,
    Method.SLOW: 1.15,
    Method.QUICK: 1.3,
    Method.TREND: 1.5,
    Method.CROSTON: 1.1,
    Method.SEASON: 1.5,
    Method.SEASON_SLOW: 1.6,
    Method.SEASON_TREND: 2.0,
}


_OF_SELDOM: Final = (Method.MEAN, Method.YEAR, Method.CROSTON)

_DRIFT_OF_SELDOM: Final = 0.3
"""Of what is used seldom, most of the drift that is seen is chance: one large use makes it. Chosen
of 0, 0.3 and 1 on made-up shops of the seeds 5 and 6."""


@dataclass(frozen=True, slots=True, eq=False)
class Forecasts:
    """Rows are items.

    Attributes:
        patterns: How each was used.
        methods: The chosen one of each.
        per_week: (items, WEEKS_AHEAD) mean use of each week to come.
        lump: Variance of a week's use over its mean: the size of a lump, so to speak.
        drift: Growth of that ratio with every week ahead, since the mean itself is uncertain.
        error_ratio: Mean squared error of the chosen method over that of the plain mean, in the
            backtest.
        origins: Forecasts that were held against the past.
    """

    patterns: list[Pattern]
    methods: list[Method]
    per_week: Floats
    lump: Floats
    drift: Floats
    error_ratio: Floats
    origins: int

    def of(self, row: int) -> Forecast:
        """One item's."""
        import numpy as np  # noqa: PLC0415 - as above

        per_week = self.per_week[row]
        return Forecast(
            pattern=self.patterns[row],
            method=self.methods[row],
            per_week=per_week,
            lump=float(self.lump[row]),
            drift=float(self.drift[row]),
            total=np.concatenate([[0.0], per_week.cumsum()]),
        )


def weekly(use_base_by_day: npt.NDArray[np.int64]) -> Floats:
    """(items, days) to (items, whole weeks), the last one ending with the last day."""
    items, days = use_base_by_day.shape
    weeks = days // DAYS_PER_WEEK
    kept = use_base_by_day[:, days - weeks * DAYS_PER_WEEK :]
    found: Floats = kept.reshape(items, weeks, DAYS_PER_WEEK).sum(axis=2).astype(float)
    return found


def forecasts(use_base_by_week: Floats, horizon_weeks: Floats) -> Forecasts:
    """Forecast items with a history of the same length.

    Args:
        use_base_by_week: (items, weeks) >= 0, oldest first, at least `WEEKS_LEAST`.
        horizon_weeks: (items,) weeks over which a forecast must hold: lead time and review.
    """
    import numpy as np  # noqa: PLC0415 - heavy, and not needed to start

    use = use_base_by_week
    items, weeks = use.shape
    assert weeks >= WEEKS_LEAST
    methods = PLAIN + (SEASONAL if weeks >= SEASON_WEEKS_LEAST else ())
    first = weeks // 2
    horizon = np.clip(np.rint(horizon_weeks), 1, weeks - first).astype(np.int64)
    error = np.zeros((len(methods), items))
    excess = np.zeros((len(methods), items))
    tried = np.zeros(items)
    done = np.concatenate([np.zeros((items, 1)), use.cumsum(axis=1)], axis=1)
    rows = np.arange(items)
    croston = croston_by_origin(use)
    # A season needs a year before it can be looked for, so only the later half is forecast.
    for origin in range(first, weeks, _ORIGIN_STEP_WEEKS):
        is_open = origin + horizon <= weeks
        if not is_open.any():
            break
        came = done[rows, np.minimum(origin + horizon, weeks)] - done[:, origin]
        said = _said(use[:, :origin], croston[:, origin], methods, int(horizon.max()))
        for at, method in enumerate(methods):
            total = said.total(method, horizon)
            error[at] += np.where(is_open, (came - total) ** 2, 0.0)
            excess[at] += np.where(is_open, total, 0.0)
        tried += is_open
    margin = np.array([_MARGIN[each] for each in methods])[:, None]
    found = patterns(use)
    is_seldom = np.array([each in SELDOM for each in found])
    is_fine = np.array([each in _OF_SELDOM for each in methods])[:, None]
    # Few uses make waves and trends of nothing, and a quick method would take the last for many.
    margin = np.where(is_seldom & ~is_fine, np.inf, margin)
    chosen = ((error + 1e-9) * margin).argmin(axis=0)
    said = _said(use, croston[:, weeks], methods, WEEKS_AHEAD)
    ahead = np.empty((items, WEEKS_AHEAD))
    for at in set(chosen.tolist()):
        ahead[chosen == at] = said.path(methods[at])[chosen == at]
    lump = _lump(use, is_seasonal=np.array([methods[each] in SEASONAL for each in chosen]))
    best, sums = error[chosen, rows], excess[chosen, rows]
    ratio = best / np.maximum(lump * sums, 1e-9)
    own = np.array([(_weights(each, weeks)[0] ** 2).sum() for each in methods])[chosen]
    disjoint = np.maximum(1.0, (weeks - first) / horizon)
    share = disjoint / (disjoint + 5) * np.where(is_seldom, _DRIFT_OF_SELDOM, 1.0)
    drift = own + share * np.maximum(0.0, (ratio - 1) / horizon - own)
    return Forecasts(
        patterns=found,
        methods=[methods[each] for each in chosen],
        per_week=ahead,
        lump=lump,
        drift=drift,
        error_ratio=best / np.maximum(error[0], 1e-9),
        origins=int(tried.max()),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Said:
    """What each method says from the end of some past.

    Attributes:
        level: Of each method: (items,) use of an even week now.
        slope: Of each method with a trend: (items,) what an even week grows by, damped later.
        season: (items, ahead) the weeks' shares; None where no method has a season.
    """

    level: dict[Method, Floats]
    slope: dict[Method, Floats]
    ahead: int
    season: Floats | None

    def path(self, method: Method) -> Floats:
        """(items, ahead) use of each week."""
        import numpy as np  # noqa: PLC0415 - as above

        even = self.level[method][:, None] * np.ones(self.ahead)
        if method in self.slope:
            even = np.maximum(0.0, even + self.slope[method][:, None] * _damped(self.ahead))
        return even * self.season if method in SEASONAL and self.season is not None else even

    def total(self, method: Method, horizon: npt.NDArray[np.int64]) -> Floats:
        """(items,) use over each item's horizon."""
        import numpy as np  # noqa: PLC0415 - as above

        rows = np.arange(len(horizon))
        if method in self.slope:
            found: Floats = self.path(method).cumsum(axis=1)[rows, horizon - 1]
            return found
        if method in SEASONAL and self.season is not None:
            share: Floats = self.season.cumsum(axis=1)[rows, horizon - 1]
            return self.level[method] * share
        return self.level[method] * horizon


def _said(past: Floats, croston: Floats, methods: tuple[Method, ...], ahead: int) -> _Said:
    import numpy as np  # noqa: PLC0415 - as above

    weeks = past.shape[1]
    is_season = any(each in SEASONAL for each in methods)
    season = _season(past, ahead) if is_season else None
    level: dict[Method, Floats] = {Method.CROSTON: croston}
    slope: dict[Method, Floats] = {}
    even = past if season is None else past / season[:, :weeks]
    for method in methods:
        if method is Method.CROSTON:
            continue
        weight, slopes = _weights(method, weeks)
        own = even if method in SEASONAL else past
        if slopes is not None:
            level[method], slope[method] = own @ weight, own @ slopes
        elif method in SEASONAL and season is not None:
            # A quotient of sums, not a sum of quotients: a week out of season counts for little.
            level[method] = past @ weight / np.maximum(season[:, :weeks] @ weight, _INDEX_LEAST)
        else:
            level[method] = past @ weight
    return _Said(level, slope, ahead, None if season is None else season[:, weeks:])


@lru_cache(maxsize=64)
def _damped(ahead: int) -> Floats:
    import numpy as np  # noqa: PLC0415 - as above

    return np.cumsum(_DAMPING ** np.arange(1, ahead + 1))


@lru_cache(maxsize=512)
def _weights(method: Method, weeks: int) -> tuple[Floats, Floats | None]:
    """Weights of the past for the level now and, with a trend, for its slope a week."""
    import numpy as np  # noqa: PLC0415 - as above

    age = np.arange(weeks - 1, -1, -1.0)
    if method in {Method.TREND, Method.SEASON_TREND}:
        weight = 0.97**age
        design = np.stack([np.ones(weeks), -age], axis=1)
        solved = np.linalg.solve(
            design.T @ (design * weight[:, None]), (design * weight[:, None]).T
        )
        return solved[0], solved[1]
    if method is Method.YEAR:
        weight = (age < 52).astype(float)  # noqa: PLR2004 - weeks
    else:
        alpha = {Method.SLOW: 0.05, Method.SEASON_SLOW: 0.05, Method.QUICK: 0.15}.get(method, 0.0)
        weight = (1 - alpha) ** age
    return weight / weight.sum(), None


@lru_cache(maxsize=256)
def _waves(weeks: int, ahead: int) -> tuple[Floats, Floats]:
    """Waves of a year over past and future, and what solves for their heights."""
    import numpy as np  # noqa: PLC0415 - as above

    angle = 2 * np.pi * np.arange(weeks + ahead) / YEAR_WEEKS
    columns = [np.ones(weeks + ahead)]
    for wave in range(1, _WAVES + 1):
        columns += [np.cos(wave * angle), np.sin(wave * angle)]
    design = np.stack(columns, axis=1)
    solver: Floats = np.linalg.pinv(design[:weeks]).astype(np.float64)
    return design, solver


def _season(past: Floats, ahead: int) -> Floats:
    """(items, weeks + ahead): a week's share of an even week, 1 without a season.

    Two waves of a year fitted to the past, shrunk by as much as chance would make of them.
    """
    import numpy as np  # noqa: PLC0415 - as above

    weeks = past.shape[1]
    design, solver = _waves(weeks, ahead)
    heights = past @ solver.T
    mean = np.maximum(heights[:, :1], 1e-9)
    wave = heights[:, 1:] @ design[:, 1:].T
    fitted = heights @ design[:weeks].T
    noise = ((past - fitted) ** 2).sum(axis=1) / max(1, weeks - design.shape[1])
    explained = np.maximum((wave[:, :weeks] ** 2).sum(axis=1), 1e-9)
    kept = np.maximum(0.0, 1 - 2 * _WAVES * noise / explained)
    found: Floats = np.maximum(_INDEX_LEAST, 1 + kept[:, None] * wave / mean)
    return found


def croston_by_origin(use: Floats) -> Floats:
    """(items, weeks + 1): use a week as Croston tells it with alpha 0.1, corrected, by origin."""
    import numpy as np  # noqa: PLC0415 - as above

    alpha = 0.1
    items, weeks = use.shape
    size = np.zeros(items)
    interval = np.ones(items)
    since = np.ones(items)
    found = np.zeros((items, weeks + 1))
    seen = np.zeros(items, dtype=bool)
    for week in range(weeks):
        now = use[:, week]
        is_used = now > 0
        is_first = is_used & ~seen
        size = np.where(is_first, now, np.where(is_used, size + alpha * (now - size), size))
        interval = np.where(
            is_first, since, np.where(is_used, interval + alpha * (since - interval), interval)
        )
        since = np.where(is_used, 1.0, since + 1)
        seen |= is_used
        found[:, week + 1] = np.where(seen, (1 - alpha / 2) * size / interval, 0.0)
    return found


def _lump(use: Floats, *, is_seasonal: npt.NDArray[np.bool_]) -> Floats:
    """Variance of a week's use about its season, over its mean."""
    import numpy as np  # noqa: PLC0415 - as above

    weeks = use.shape[1]
    mean = use.mean(axis=1, keepdims=True)
    index = np.ones_like(use)
    if is_seasonal.any():
        index[is_seasonal] = _season(use[is_seasonal], 0)
    free = np.where(is_seasonal, weeks - 1 - 2 * _WAVES, weeks - 1)
    found: Floats = ((use - mean * index) ** 2).sum(axis=1) / free / np.maximum(mean[:, 0], 1e-9)
    return found
