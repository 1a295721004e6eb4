"""The integer programme of what can be built, and its solver (HiGHS, by scipy).

Rows are item balances: what runs take, and what is wanted new, is at most what is on the shelf and
what runs make. Whole pieces; small amounts are whole base units too, large ones may be parts of
one, which the walk rounds up after and proves.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Final, NamedTuple

from batches.planning.rules.making import Recipe, Shop, Take

PIECES_CAP: Final = 1_000_000
"""No plan makes more of anything: nobody asks for more, and sums stay exact enough."""

WHOLE_BASE_MAX: Final = 100_000
"""Up to here an item's amounts are whole base units in the programme; beyond, one more or less of
a milligram decides nothing and the walk has the last word."""

SECONDS_MAX: Final = 5.0
"""Most that a question may take; its best plan by then is the answer."""

_TINY: Final = 1e-6


class Goal(NamedTuple):
    """A lure wanted new: what one is worth, at least and at most how many."""

    value: int
    most: int = PIECES_CAP
    least: int = 0


class Found(NamedTuple):
    """What the solver answers, not proved yet.

    Attributes:
        wanted: Pieces new, by goal.
        standing: What it takes of stand-ins.
        value_max: No plan is worth more.
    """

    wanted: dict[str, int]
    standing: dict[tuple[str, int, str], int]
    value_max: float


@dataclass(slots=True)
class _Columns:
    """Variables: their bounds, and which are whole."""

    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    is_whole: list[bool] = field(default_factory=list)

    def add(self, high: float, *, low: float = 0, is_whole: bool = True) -> int:
        self.low.append(low)
        self.high.append(high)
        self.is_whole.append(is_whole)
        return len(self.high) - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is wanted of which shop.

    Attributes:
        shop: What is there, and how things are made.
        goals: What is wanted, by item with a recipe.
        minutes_max: Labor minutes that there are; None: as many as it takes.
        plenty: Items without a recipe that there is any amount of, to see what others allow.
        seconds_max: Most that the solver may take.
    """

    shop: Shop
    goals: Mapping[str, Goal]
    minutes_max: Fraction | None = None
    plenty: AbstractSet[str] = frozenset()
    seconds_max: float = SECONDS_MAX


class Program:
    """A question as rows and columns.

    Args:
        question: It.
        begun: Items that a batch is surely made of: what it takes once is taken.
        in_parts: Whether parts of pieces will do: solved at once, and to be rounded.
    """

    def __init__(
        self,
        question: Question,
        *,
        begun: AbstractSet[str] = frozenset(),
        in_parts: bool = False,
    ) -> None:
        self._shop, self._goals = shop, goals = question.shop, question.goals
        self._begun, self._plenty = begun, question.plenty
        self._seconds_max = SECONDS_MAX if in_parts else question.seconds_max
        self._in_parts = in_parts
        self._items = shop.below(goals)
        self._made = [item for item in self._items if item in shop.recipes]
        self._columns = _Columns()
        self._rows: list[tuple[dict[int, float], float]] = []
        self._worked_max = self._most_worked()
        self._balance: dict[str, dict[int, float]] = defaultdict(lambda: defaultdict(float))
        self._users = Counter(
            code for item in self._made for take in shop.recipes[item].takes for code in take.family
        )
        self._standing: dict[tuple[str, int, str], int] = {}
        self._worked = {
            item: self._columns.add(self._worked_max[item], is_whole=self._is_small(item))
            for item in self._made
        }
        self._new = {
            item: self._columns.add(min(goal.most, PIECES_CAP), low=goal.least)
            for item, goal in goals.items()
        }
        for item in self._made:
            self._add_run(item, shop.recipes[item])
        for item in self._items:
            if item not in self._plenty:
                self._rows.append((self._balance[item], float(shop.stock_base.get(item, 0))))
        if question.minutes_max is not None:
            of_run = {self._worked[i]: float(shop.recipes[i].minutes) for i in self._made}
            self._rows.append((of_run, float(question.minutes_max)))

    def solve(self) -> Found | None:
        """The best plan; None when there is none, or none was found in time."""
        import numpy as np  # noqa: PLC0415 - heavy, and not needed to start
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - as above

        if not self._goals:
            return Found({}, {}, 0)
        columns = self._columns
        value = np.zeros(len(columns.high))
        scale = max((abs(goal.value) for goal in self._goals.values()), default=0) or 1
        for item, goal in self._goals.items():
            value[self._new[item]] = goal.value / scale
        matrix, most = self._matrix()
        answer = milp(
            -value,
            constraints=LinearConstraint(matrix, -np.inf, most),
            bounds=Bounds(columns.low, columns.high),
            integrality=np.array(columns.is_whole, dtype=int) * (not self._in_parts),
            options={"mip_rel_gap": 0, "time_limit": self._seconds_max},
        )
        if answer.x is None:
            return None
        bound = answer.fun if answer.mip_dual_bound is None else answer.mip_dual_bound
        whole = _down if self._in_parts else _whole
        return Found(
            wanted={item: whole(answer.x[at]) for item, at in self._new.items()},
            standing={key: _whole(answer.x[at]) for key, at in self._standing.items()},
            value_max=-float(bound) * scale,
        )

    def _matrix(self) -> tuple[Any, Any]:
        """Rows in pieces rather than milligrams, so that one tolerance fits all."""
        from scipy.sparse import csr_array  # noqa: PLC0415 - as above

        rows: list[int] = []
        columns: list[int] = []
        numbers: list[float] = []
        most: list[float] = []
        for at, (row, limit) in enumerate(self._rows):
            scale = max((abs(number) for number in row.values()), default=1.0) or 1.0
            rows += [at] * len(row)
            columns += row.keys()
            numbers += [number / scale for number in row.values()]
            most.append(limit / scale)
        shape = (len(self._rows), len(self._columns.high))
        return csr_array((numbers, (rows, columns)), shape=shape), most

    def _add_run(self, item: str, recipe: Recipe) -> None:
        worked, yielded = self._worked[item], float(1 - recipe.scrap_ratio)
        if recipe.scrap_ratio:
            good = self._columns.add(self._worked_max[item], is_whole=self._is_small(item))
            self._rows.append(({good: 1.0, worked: -yielded}, 0.0))
        else:
            good = worked
        self._balance[item][good] -= 1.0
        if item in self._new:
            self._balance[item][self._new[item]] += 1.0
            self._rows.append(({self._new[item]: 1.0, good: -1.0}, 0.0))
        begun = None
        if any(take.per_batch_base for take in recipe.takes):
            begun = self._columns.add(1, low=float(item in self._begun))
            self._rows.append(({worked: 1.0, begun: -float(self._worked_max[item])}, 0.0))
        for place, take in enumerate(recipe.takes):
            need: dict[int, float] = {worked: float(take.per_piece)}
            if begun is not None and take.per_batch_base:
                need[begun] = float(take.per_batch_base)
            self._add_take(item, place, take, need)

    def _add_take(self, item: str, place: int, take: Take, need: dict[int, float]) -> None:
        """What a line needs comes off its item, or off columns of what is taken of each."""
        is_rounded = take.per_piece.denominator != 1 and self._users[take.item] > 1
        if not take.stand_ins and not (is_rounded and self._is_small(take.item)):
            for column, number in need.items():
                self._balance[take.item][column] += number
            return
        most = float(take.need_base(self._worked_max[item]))
        taken = {}
        for code in take.family:
            taken[code] = self._columns.add(most, is_whole=self._is_small(code))
            self._balance[code][taken[code]] += 1.0
        self._rows.append(({**need, **dict.fromkeys(taken.values(), -1.0)}, 0.0))
        for other in take.stand_ins:
            self._standing[item, place, other.item] = taken[other.item]
            share = {column: -float(other.largest_ratio) for column in taken.values()}
            share[taken[other.item]] += 1.0
            self._rows.append((share, 0.0))

    def _is_small(self, item: str) -> bool:
        """Whether its amounts are whole base units here."""
        if item in self._plenty:
            return False
        return self._shop.stock_base.get(item, 0) + self._worked_max.get(item, 0) <= WHOLE_BASE_MAX

    def _most_worked(self) -> dict[str, int]:
        """Pieces that no run can go beyond: by what there is below, and what is wanted above."""
        there: dict[str, float] = {}
        worked: dict[str, float] = {}
        for item in reversed(self._items):
            there[item] = math.inf if item in self._plenty else self._shop.stock_base.get(item, 0)
            if item in self._shop.recipes:
                worked[item] = _worked_max(self._shop.recipes[item].takes, there)
                there[item] += worked[item]
        needed: dict[str, float] = defaultdict(float)
        for item in self._items:
            if item not in self._shop.recipes:
                continue
            recipe = self._shop.recipes[item]
            goal = self._goals.get(item)
            wanted = needed[item] + (min(goal.most, PIECES_CAP) if goal else 0)
            worked[item] = min(worked[item], recipe.worked(math.ceil(wanted)))
            for take in recipe.takes:
                for code in take.family:
                    needed[code] += take.need_base(math.floor(worked[item])) if worked[item] else 0
        return {item: math.floor(pieces) for item, pieces in worked.items()}


def _worked_max(takes: Iterable[Take], there: Mapping[str, float]) -> float:
    """Pieces that could be worked on if nothing else took of what there is."""
    most: float = math.inf
    for take in takes:
        left = sum(there[code] for code in take.family) - take.per_batch_base
        if left < 0:
            return 0
        if take.per_piece and left < math.inf:
            most = min(most, left / float(take.per_piece) * (1 + _TINY) + _TINY)
    return most


def _down(number: float) -> int:
    return max(math.floor(number + _TINY), 0)


def _whole(number: float) -> int:
    return max(round(number), 0)
