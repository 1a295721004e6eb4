"""What can be built from what is there: the most of one lure, or the best mix of several.

The solver proposes, the walk proves: every answer is made, in whole base units, from the shelf.
One batch of each item is meant; to make it in several takes what goes once a batch again.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

from batches.planning.rules.making import NONE_STANDING, Shop, Standing, Walk, walk
from batches.planning.rules.program import Found, Program, Question

TRIES: Final = 6
"""How often the solver is asked again with what its rounding missed, before pieces are dropped."""

NEAR: Final = 1e-5
"""A plan this near to the solver's bound, in parts of a piece, is the best."""


MORE_SECONDS_MAX: Final = 1.0
"""What more of one thing would give is a hint, and several are asked for."""

_PARTS: Final = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """A plan that was walked.

    Attributes:
        pieces: New ones of each goal, beside those on the shelf.
        value: What they are worth.
        value_max: No plan is worth more.
        standing: Most that it takes of stand-ins.
    """

    pieces: Mapping[str, int]
    value: int
    value_max: int
    walk: Walk
    standing: Standing

    @property
    def is_best(self) -> bool:
        """Whether it is proved that no plan is worth more."""
        return self.value >= self.value_max


class Limit(NamedTuple):
    """What one item would allow if there were plenty of all others; None: more than anybody asks.

    A limit below another's is the tighter one.
    """

    item: str
    pieces: int | None


def best(question: Question) -> Built | None:
    """The plan worth most; None when what is wanted at least cannot be made.

    Where the solver had not the time to prove its plan the best, it may be far from it: then parts
    of pieces, which take no time, are rounded, and the better plan is the answer.
    """
    assert question.goals.keys() <= question.shop.recipes.keys()
    whole = _in_whole_pieces(question)
    if whole is not None and whole.is_best:
        return whole
    rounded = _rounded(question, None if whole is None else whole.value_max)
    plans = [each for each in (whole, rounded) if each is not None]
    return max(plans, key=lambda each: each.value, default=None)


def _in_whole_pieces(question: Question) -> Built | None:
    found = first = Program(question).solve()
    if first is None or found is None:
        return None
    shop, begun = question.shop, frozenset[str]()
    for _ in range(TRIES):
        for standing in (NONE_STANDING, found.standing):
            way = walk(question.shop, found.wanted, standing)
            if _fits(question, way):
                return _built(question, found.wanted, way, standing, first.value_max)
        runs = {run.item for run in way.runs}
        if runs <= begun:
            shop = _tighter(shop, way)
        begun |= runs
        found = Program(replace(question, shop=shop), begun=begun).solve() or found
    return _fewer(question, found, first.value_max)


def _rounded(question: Question, value_max: float | None) -> Built | None:
    """A plan in parts of pieces, rounded down, then raised lure by lure as far as it goes.

    No plan in whole pieces is worth more than the one in parts.
    """
    found = Program(question, in_parts=True).solve()
    if found is None:
        return None
    value_max = found.value_max if value_max is None else value_max
    # What batches take once counts in full only when it is known which begin.
    begun = {run.item for run in walk(question.shop, found.wanted).runs}
    found = Program(question, begun=begun, in_parts=True).solve() or found
    built = _fewer(question, found, value_max)
    return None if built is None else _raised(question, built, value_max)


def _raised(question: Question, built: Built, value_max: float) -> Built:
    """The same with more of each goal, the worthiest first, as long as it fits."""
    for item, goal in sorted(question.goals.items(), key=lambda pair: -pair[1].value):
        step = 1 if goal.value > 0 else 0
        while step:
            pieces = {**built.pieces, item: built.pieces[item] + step}
            way = walk(question.shop, pieces, built.standing)
            fits = pieces[item] <= goal.most and _fits(question, way)
            if fits:
                built = _built(question, pieces, way, built.standing, value_max)
            step = step * 2 if fits else step // 2
    return built


def limits(question: Question, item: str) -> list[Limit]:
    """What each item without a recipe allows of a goal, time aside; the tightest first."""
    shop, most = question.shop, question.goals[item].most
    bought = {code for code in shop.below(question.goals) if code not in shop.recipes}
    found = []
    for code in bought.intersection(shop.below([item])):
        built = best(replace(question, minutes_max=None, plenty=bought - {code}))
        pieces = 0 if built is None else built.pieces[item]
        found.append(Limit(code, None if pieces >= most else pieces))
    return sorted(found, key=lambda each: (each.pieces is None, each.pieces or 0, each.item))


def with_more(
    question: Question, built: Built, *, item: str = "", more_base: int = 0, more_minutes: int = 0
) -> Built:
    """The best plan if there were so much more of one thing; the same, if none is better."""
    shop, minutes_max = question.shop, question.minutes_max
    if item:
        stock = {**shop.stock_base, item: shop.stock_base.get(item, 0) + more_base}
        shop = replace(shop, stock_base=stock)
    if minutes_max is not None:
        minutes_max += more_minutes
    then = best(replace(question, shop=shop, minutes_max=minutes_max, seconds_max=MORE_SECONDS_MAX))
    return built if then is None or then.value < built.value else then


def missing_for_one_more(question: Question, built: Built) -> dict[str, dict[str, int]]:
    """What is short for one more of each goal that is not at its most yet, by item."""
    return {
        item: walk(question.shop, {**built.pieces, item: pieces + 1}, built.standing).short_base
        for item, pieces in built.pieces.items()
        if pieces < question.goals[item].most
    }


def _fits(question: Question, way: Walk) -> bool:
    if not question.plenty >= way.short_base.keys():
        return False
    most = question.minutes_max
    return most is None or way.minutes(question.shop.recipes) <= most


def _built(
    question: Question, pieces: Mapping[str, int], way: Walk, standing: Standing, value_max: float
) -> Built:
    goals = question.goals
    value = sum(goals[item].value * each for item, each in pieces.items())
    near = NEAR * max((abs(goal.value) for goal in goals.values()), default=0)
    return Built(
        pieces=pieces,
        value=value,
        value_max=value if value_max <= value + near else math.floor(value_max + near),
        walk=way,
        standing=standing,
    )


def _tighter(shop: Shop, way: Walk) -> Shop:
    """As much less on the shelf as the walk found missing: what rounding up takes."""
    stock = dict(shop.stock_base)
    for item, short_base in way.short_base.items():
        stock[item] = max(stock.get(item, 0) - short_base, 0)
    return replace(shop, stock_base=stock)


def _fewer(question: Question, found: Found, value_max: float) -> Built | None:
    """The same in proportion, as many as can be made: fewer pieces never take more."""
    goals = question.goals

    def part(share: int) -> dict[str, int]:
        return {
            item: goals[item].least + (each - goals[item].least) * share // _PARTS
            for item, each in found.wanted.items()
        }

    low, high = -1, _PARTS
    while high - low > 1:
        share = (low + high) // 2
        fits = _fits(question, walk(question.shop, part(share), found.standing))
        low, high = (share, high) if fits else (low, share)
    if low < 0:
        return None
    way = walk(question.shop, part(low), found.standing)
    return _built(question, part(low), way, found.standing, value_max)
