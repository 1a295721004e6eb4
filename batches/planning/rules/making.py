"""What making so many pieces takes, level by level, in whole base units.

Items are known by their codes. What a "piece" is of a mixture is its base unit. No solver here:
what one answers is proved by walking it.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from types import MappingProxyType
from typing import Final, NamedTuple

from batches.bills.rules import low_level_codes


class StandIn(NamedTuple):
    """An item that may stand in for a line's own, up to a share of its need, above 0 to 1."""

    item: str
    largest_ratio: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Take:
    """What working on a piece takes of an item.

    Attributes:
        per_piece: Base units a piece worked on, what is lost on the way included, >= 0.
        per_batch_base: Base units once a batch, >= 0.
    """

    item: str
    per_piece: Fraction
    per_batch_base: int = 0
    stand_ins: tuple[StandIn, ...] = ()

    @property
    def family(self) -> tuple[str, ...]:
        """Its own item, then those that may stand in."""
        return (self.item, *(other.item for other in self.stand_ins))

    def need_base(self, pieces: int) -> int:
        """Base units for so many pieces worked on, rounded up: one short cannot be finished."""
        return math.ceil(self.per_piece * pieces) + self.per_batch_base


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """How an item is made.

    Attributes:
        scrap_ratio: Pieces lost per piece worked on, 0 to below 1.
        minutes: Labor minutes a piece worked on; 0 where nobody wrote them down.
    """

    takes: tuple[Take, ...]
    scrap_ratio: Fraction = Fraction(0)
    minutes: Fraction = Fraction(0)

    def worked(self, good: int) -> int:
        """Pieces to work on for so many good ones, scrap as planned, rounded up."""
        return math.ceil(good / (1 - self.scrap_ratio))


@dataclass(frozen=True, kw_only=True)
class Shop:
    """What is there, and how things are made.

    Attributes:
        stock_base: Base units that may be taken, >= 0, by item; an item without one has none.
        recipes: By the item made.
    """

    stock_base: Mapping[str, int]
    recipes: Mapping[str, Recipe]

    @cached_property
    def order(self) -> tuple[str, ...]:
        """Every item after all that it goes into."""
        edges = {
            item: [code for take in recipe.takes for code in take.family]
            for item, recipe in self.recipes.items()
        }
        return tuple(low_level_codes(edges))

    def below(self, items: Iterable[str]) -> tuple[str, ...]:
        """The items, and all that they may be made of, in the same order."""
        found = set(items)
        for item in self.order:
            if item in found and item in self.recipes:
                found.update(code for take in self.recipes[item].takes for code in take.family)
        return tuple(item for item in self.order if item in found)


class Run(NamedTuple):
    """One batch to make: pieces wanted good, worked on, and what they take by item."""

    item: str
    good: int
    worked: int
    takes_base: Mapping[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """What it comes to when so many pieces are made.

    Attributes:
        runs: What to make first comes first.
        left_base: What is left of each item, below zero where it is short.
    """

    runs: tuple[Run, ...]
    left_base: Mapping[str, int]

    @property
    def short_base(self) -> dict[str, int]:
        """What is missing, by item; empty when it can be done."""
        return {item: -left for item, left in self.left_base.items() if left < 0}

    def minutes(self, recipes: Mapping[str, Recipe]) -> Fraction:
        """Labor minutes of all runs."""
        return sum((recipes[run.item].minutes * run.worked for run in self.runs), Fraction(0))


Standing = Mapping[tuple[str, int, str], int]
"""Most to take of a stand-in: by item made, place of the line in its recipe, and stand-in."""

NONE_STANDING: Final[Standing] = MappingProxyType({})


def walk(shop: Shop, wanted: Mapping[str, int], standing: Standing = NONE_STANDING) -> Walk:
    """Make so many of some items, new ones, beside those on the shelf; one batch of each item.

    What goes into others is taken from the shelf first, and made as far as it is short.
    """
    needed: Counter[str] = Counter()
    left: dict[str, int] = {}
    runs: list[Run] = []
    for item in shop.below(wanted):
        recipe, kept = shop.recipes.get(item), wanted.get(item, 0)
        spare = shop.stock_base.get(item, 0) - needed[item]
        good = 0 if recipe is None else max(kept, kept - spare)
        left[item] = spare + good - kept
        if recipe is None or not good:
            continue
        taken = _taken(item, recipe, recipe.worked(good), standing)
        runs.append(Run(item, good, recipe.worked(good), taken))
        needed.update(taken)
    return Walk(runs=tuple(reversed(runs)), left_base=left)


def _taken(item: str, recipe: Recipe, worked: int, standing: Standing) -> Counter[str]:
    taken: Counter[str] = Counter()
    for place, take in enumerate(recipe.takes):
        need_base = rest = take.need_base(worked)
        for other in take.stand_ins:
            most = min(rest, math.floor(need_base * other.largest_ratio))
            part = min(most, standing.get((item, place, other.item), 0))
            taken[other.item] += part
            rest -= part
        taken[take.item] += rest
    return +taken
