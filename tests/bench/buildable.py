"""Whether the plan of what can be built is the best: `python -m tests.bench.buildable`.

Small shops against trying every plan. Large ones, with amounts as a shop has them and no stand-ins,
against halving the distance with the walk alone.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterator
from fractions import Fraction
from random import Random
from typing import NamedTuple

from batches.planning.rules.buildable import best
from batches.planning.rules.making import Recipe, Shop, Take, walk
from batches.planning.rules.program import PIECES_CAP, Goal, Question
from tests.batches.planning.small_shops import PIECES_MAX, best_by_trying, can_be_made, small_shop


class Asked(NamedTuple):
    """One question, how long its answer took, and whether it is what it should be."""

    seconds: float
    is_equal: bool
    is_proved: bool


def small(chance: Random) -> Asked:
    """A shop in which every plan can be tried."""
    shop = small_shop(chance)
    values = {item: chance.randint(1, 20) for item in shop.recipes if item.startswith("L")}
    minutes_max = chance.choice((None, None, Fraction(chance.randint(0, 30))))
    goals = {item: Goal(value, PIECES_MAX) for item, value in values.items()}
    start = time.perf_counter()
    built = best(Question(shop=shop, goals=goals, minutes_max=minutes_max))
    taken = time.perf_counter() - start
    assert built is not None
    is_equal = can_be_made(shop, built.pieces, minutes_max) and built.value == best_by_trying(
        shop, values, minutes_max
    )
    return Asked(taken, is_equal, built.is_best)


def large(chance: Random) -> Asked:
    """One lure of four stages in a shop with kilograms, liters and boxes of hooks."""
    shop = large_shop(chance)
    start = time.perf_counter()
    built = best(Question(shop=shop, goals={"LURE": Goal(1)}))
    taken = time.perf_counter() - start
    assert built is not None
    low, high = 0, PIECES_CAP + 1
    while high - low > 1:
        half = (low + high) // 2
        low, high = (low, half) if walk(shop, {"LURE": half}).short_base else (half, high)
    return Asked(taken, built.pieces["LURE"] == low, built.is_best)


def large_shop(chance: Random) -> Shop:
    """Amounts in milligrams, microliters and pieces."""

    def per(low: int, high: int, kept: str = "1") -> Fraction:
        return Fraction(chance.randint(low, high)) / Fraction(kept)

    def scrap() -> Fraction:
        return Fraction(chance.randint(0, 12), 100)

    def half() -> Recipe:
        resin = Take(item="RESIN", per_piece=per(2000, 9000), per_batch_base=150_000)
        return Recipe(takes=(resin,), scrap_ratio=scrap())

    body = (
        Take(item="HALF-L", per_piece=Fraction(1)),
        Take(item="HALF-R", per_piece=Fraction(1)),
        Take(item="GLUE", per_piece=per(80, 200, "0.9"), per_batch_base=15_000),
        Take(item="RATTLE", per_piece=per(1, 3)),
    )
    painted = (
        Take(item="BODY", per_piece=Fraction(1)),
        Take(item="PAINT", per_piece=per(200, 900, "0.35"), per_batch_base=5000),
    )
    lure = (
        Take(item="PAINTED", per_piece=Fraction(1)),
        Take(item="HOOK", per_piece=per(2, 3)),
        Take(item="INSERT", per_piece=Fraction(1, chance.randint(2, 7))),
    )
    stock = {
        "RESIN": chance.randint(0, 50_000_000), "GLUE": chance.randint(0, 900_000),
        "RATTLE": chance.randint(0, 9000), "PAINT": chance.randint(0, 8_000_000),
        "HOOK": chance.randint(0, 20_000), "INSERT": chance.randint(0, 3000),
        "HALF-L": chance.randint(0, 500), "HALF-R": chance.randint(0, 500),
        "BODY": chance.randint(0, 300), "PAINTED": chance.randint(0, 300),
    }  # fmt: skip
    recipes = {
        "HALF-L": half(),
        "HALF-R": half(),
        "BODY": Recipe(takes=body, scrap_ratio=scrap()),
        "PAINTED": Recipe(takes=painted, scrap_ratio=scrap()),
        "LURE": Recipe(takes=lure, scrap_ratio=scrap()),
    }
    return Shop(stock_base=stock, recipes=recipes)


def rows(kind: Callable[[Random], Asked], shops: int, seed: int) -> Iterator[Asked]:
    """The answers in so many shops."""
    for number in range(shops):
        yield kind(Random(f"{seed} {number}"))  # noqa: S311 - not a secret


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.buildable", description=__doc__)
    parser.add_argument("--shops", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    print("| shops | number | best found | proved so | median | slowest |")  # noqa: T201
    print("|" + "---|" * 6)  # noqa: T201
    for name, kind in (("small, every plan tried", small), ("large, by halving", large)):
        found = list(rows(kind, options.shops, options.seed))
        taken = sorted(each.seconds * 1000 for each in found)
        print(  # noqa: T201
            f"| {name} | {len(found)} | {sum(each.is_equal for each in found)}"
            f" | {sum(each.is_proved for each in found)}"
            f" | {taken[len(taken) // 2]:.0f} ms | {taken[-1]:.0f} ms |"
        )


if __name__ == "__main__":
    main()
