"""Shops small enough to try every plan in, and what trying every plan finds.

It shares no line with the programme: amounts are tried, not computed back.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterator, Mapping
from fractions import Fraction
from random import Random

from batches.planning.rules.making import Recipe, Shop, StandIn, Take

PIECES_MAX = 9
PER_PIECE = tuple(Fraction(n) for n in ("1/2", "1/3", "1", "1", "2", "3/2"))
SCRAP = tuple(Fraction(n) for n in ("0", "0", "1/10", "1/4"))


def small_shop(chance: Random) -> Shop:
    """One or two lures of painted bodies of bought things, with stand-ins and amounts a batch."""
    bought = [f"B{n}" for n in range(chance.randint(2, 4))]
    made = [f"M{n}" for n in range(chance.randint(0, 2))]
    recipes = {}
    for place, item in enumerate(made):
        recipes[item] = _recipe(chance, [*bought, *made[:place]], bought)
    for lure in ("L0", "L1")[: chance.randint(1, 2)]:
        lures = [each for each in recipes if each.startswith("L")]  # a set takes other lures
        recipes[lure] = _recipe(chance, [*bought, *made, *lures], bought)
    stock = {item: chance.randint(0, 9) for item in bought}
    stock |= {item: chance.choice((0, 0, 1, 3)) for item in made}
    return Shop(stock_base=stock, recipes=recipes)


def _recipe(chance: Random, below: list[str], bought: list[str]) -> Recipe:
    items = chance.sample(sorted(set(below)), k=min(len(set(below)), chance.randint(1, 3)))
    takes = []
    for item in items:
        others = [other for other in bought if other != item and chance.random() < 0.15]
        takes.append(
            Take(
                item=item,
                per_piece=chance.choice(PER_PIECE),
                per_batch_base=chance.choice((0, 0, 0, 1, 2)),
                stand_ins=tuple(
                    StandIn(other, chance.choice((Fraction(1, 4), Fraction(1, 2), Fraction(1))))
                    for other in others[:1]
                ),
            )
        )
    return Recipe(
        takes=tuple(takes), scrap_ratio=chance.choice(SCRAP), minutes=chance.choice(PER_PIECE)
    )


def best_by_trying(
    shop: Shop, values: Mapping[str, int], minutes_max: Fraction | None = None
) -> int:
    """The largest worth of any plan, up to `PIECES_MAX` of each."""
    counts = itertools.product(range(PIECES_MAX + 1), repeat=len(values))
    plans = (dict(zip(values, each, strict=True)) for each in counts)
    worth = sorted(
        ((sum(values[item] * n for item, n in plan.items()), plan) for plan in plans),
        key=lambda pair: -pair[0],
    )
    return next(value for value, plan in worth if can_be_made(shop, plan, minutes_max))


def can_be_made(shop: Shop, plan: Mapping[str, int], minutes_max: Fraction | None = None) -> bool:
    """Whether some way to share stand-ins out makes it."""
    todo = [item for item in reversed(list(shop.recipes)) if item in plan]
    todo += [item for item in reversed(list(shop.recipes)) if item not in plan]
    return any(
        minutes_max is None or minutes <= minutes_max
        for minutes in _ways(shop, todo, dict(shop.stock_base), dict(plan))
    )


def _ways(
    shop: Shop, todo: list[str], left: dict[str, int], wanted: dict[str, int]
) -> Iterator[Fraction]:
    """Labor minutes of every way to make the rest; what is owed shows as less than nothing."""
    if not todo:
        if all(amount >= 0 for amount in left.values()):
            yield Fraction(0)
        return
    item, rest = todo[0], todo[1:]
    owed = max(-left.get(item, 0), 0)
    good = wanted.get(item, 0) + owed
    if not good:
        yield from _ways(shop, rest, left, wanted)
        return
    recipe = shop.recipes[item]
    worked = good
    while math.floor(worked * (1 - recipe.scrap_ratio)) < good:
        worked += 1
    after = {**left, item: left.get(item, 0) + owed}
    for taken in _shares(recipe, worked):
        still = {**after, **{code: after.get(code, 0) - base for code, base in taken.items()}}
        if any(still[code] < 0 for code in taken.keys() - shop.recipes.keys()):
            continue
        for minutes in _ways(shop, rest, still, wanted):
            yield minutes + recipe.minutes * worked


def _shares(recipe: Recipe, worked: int) -> Iterator[Counter[str]]:
    ways = []
    for take in recipe.takes:
        need = take.per_batch_base
        while need < take.per_batch_base + take.per_piece * worked:
            need += 1
        if not take.stand_ins:
            ways.append([[(take.item, need)]])
            continue
        (other,) = take.stand_ins
        ways.append(
            [
                [(take.item, need - part), (other.item, part)]
                for part in range(need + 1)
                if part <= need * other.largest_ratio
            ]
        )
    for way in itertools.product(*ways):
        taken: Counter[str] = Counter()
        for part in way:
            taken.update(dict(part))
        yield taken
