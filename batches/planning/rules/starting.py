"""How many pieces to start at each stage, so that enough come out good with a chance asked for.

All good pieces go on to the next stage, and what waits half-made goes with them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

from batches.planning.rules.making import Take
from batches.planning.rules.survival import EXACT_MAX, Pieces, certain, smallest
from batches.planning.rules.yields import Yield

START_TIMES_MAX: Final = 50
"""More than so many started for one that is wanted is no plan."""

BAND: Final = (0.05, 0.95)
"""Nine times in ten a number lies between these quantiles."""


_TINY: Final = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """An item made of others that are made too.

    Attributes:
        next_yield: Of its run.
        waiting: Pieces of it that stand there, for the stages after.
        takes: Pieces that it takes of others made; what is bought is taken to be there.
    """

    next_yield: Yield
    waiting: int = 0
    takes: tuple[Take, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A number of pieces that is not known yet: its mean, and where it lies nine times in ten."""

    mean: float
    low: int
    high: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Started:
    """One run of the plan.

    Attributes:
        start: Pieces to start; None: all that come, see `comes`.
        comes: Pieces that are worked on.
        good: Those of them that are good.
    """

    item: str
    start: int | None
    comes: Band
    good: Band


@dataclass(frozen=True, slots=True, kw_only=True)
class StartPlan:
    """What to start.

    Attributes:
        runs: First things first; stages that need no run are left out.
        chance: That at least as many as wanted come out good.
        chance_with_one_fewer: The same with one piece fewer started, wherever that costs least.
    """

    runs: tuple[Started, ...]
    chance: float
    chance_with_one_fewer: float


def start_plan(
    stages: Mapping[str, Stage], item: str, *, good: int, chance: float
) -> StartPlan | None:
    """The fewest to start; None when even very many would not do.

    What goes into the last run is raised until the chance is met, stages before it following at
    their mean yields; then every start is lowered, one after the other, as far as the chance lets
    it. With one start that is the fewest there is.

    Args:
        stages: By item.
        item: What is wanted.
        good: Good ones wanted, new ones, >= 1.
        chance: 0.5 to below 1.
    """
    assert good >= 1
    assert 0 < chance < 1
    shop = _Line(stages, item, good)
    high = _enough(shop, good, chance)
    if high is None:
        return None
    if max(shop.starts(high).values()) <= EXACT_MAX:
        shop = replace(shop, is_exact=True)
        while not shop.meets(shop.starts(high), chance):
            high += 1
    low = good - 1
    starts = shop.starts(_least(low, high, lambda n: shop.meets(shop.starts(n), chance)))
    for each in starts:
        fewest = _least(-1, starts[each], lambda n: shop.meets({**starts, each: n}, chance))  # noqa: B023 - called at once
        starts = {**starts, each: fewest}
    fewer = max(
        (
            shop.outcome({**starts, each: count - 1}).at_least(good)
            for each, count in starts.items()
            if count
        ),
        default=0.0,
    )
    runs: dict[str, Started] = {}
    last = shop.outcome(starts, runs)
    return StartPlan(
        runs=tuple(runs.values()), chance=last.at_least(good), chance_with_one_fewer=fewer
    )


def _enough(shop: _Line, good: int, chance: float) -> int | None:
    """A number worked on at the last stage that is enough, not much above the least."""
    pieces = good
    while not shop.meets(shop.starts(pieces), chance):
        if pieces > START_TIMES_MAX * good:
            return None
        pieces += max(pieces // 4, 1)
    return pieces


def start_by_means(stages: Mapping[str, Stage], item: str, good: int) -> dict[str, int]:
    """What mean yields alone would start: enough about half the time."""
    return _Line(stages, item, good).starts(math.ceil(good / stages[item].next_yield.mean))


@dataclass(slots=True)
class _Line:
    """The stages below one item, and what comes out of starts."""

    stages: Mapping[str, Stage]
    item: str
    good: int
    is_exact: bool = False
    places: dict[str, int] = field(default_factory=dict)

    def starts(self, last: int) -> dict[str, int]:
        """What to start so that, at mean yields, so many are worked on at the last stage."""
        found: dict[str, int] = {}
        self._need(self.item, last, found)
        return found

    def meets(self, starts: Mapping[str, int], chance: float) -> bool:
        return self.outcome(starts).at_least(self.good) >= chance

    def outcome(self, starts: Mapping[str, int], runs: dict[str, Started] | None = None) -> Pieces:
        """The good pieces of the last run; notes all runs in `runs`, first things first."""
        good = self._good(self.item, starts, runs)
        assert good is not None, "the last stage has a run"
        return good

    def _need(self, item: str, worked: int, found: dict[str, int]) -> None:
        is_fed = False
        for take in self.stages[item].takes:
            below = self.stages[take.item]
            lacking = take.need_base(worked) - below.waiting
            if lacking > 0:
                is_fed = True
                self._need(take.item, math.ceil(lacking / below.next_yield.mean), found)
        if not is_fed:
            found[item] = worked

    def _good(
        self, item: str, starts: Mapping[str, int], runs: dict[str, Started] | None
    ) -> Pieces | None:
        """None where nothing is started at the item or below."""
        stage = self.stages[item]
        comes: Pieces | None = None
        if item in starts:
            comes = certain(starts[item], is_exact=self.is_exact)
        else:
            made = [(take, self._good(take.item, starts, runs)) for take in stage.takes]
            if any(good is not None for _, good in made):
                comes = smallest(
                    [
                        (good or certain(0, is_exact=self.is_exact))
                        .plus(self.stages[take.item].waiting)
                        .in_parts(_pieces_of(take))
                        for take, good in made
                    ]
                )
        if comes is None:
            return None
        good = comes.through(self.places.setdefault(item, len(self.places)), stage.next_yield)
        if runs is not None:
            runs[item] = Started(
                item=item, start=starts.get(item), comes=_band(comes), good=_band(good)
            )
        return good


def _pieces_of(take: Take) -> Callable[[Any], Any]:
    """Pieces that so many of what a line takes are enough for."""
    per = float(take.per_piece)

    def part(numbers: Any) -> Any:
        import numpy as np  # noqa: PLC0415 - heavy, and not needed to start

        left = np.maximum(numbers - take.per_batch_base, 0)
        return np.floor(left / per * (1 + _TINY)).astype(int)

    return part


def _least(low: int, high: int, is_enough: Callable[[int], bool]) -> int:
    """The least number above `low` that is enough, `high` being so."""
    while high - low > 1:
        half = (low + high) // 2
        low, high = (low, half) if is_enough(half) else (half, high)
    return high


def _band(pieces: Pieces) -> Band:
    low, high = BAND
    return Band(mean=pieces.mean(), low=pieces.quantile(low), high=pieces.quantile(high))
