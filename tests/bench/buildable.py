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


def mixed_shop(chance: Random, lures: int) -> tuple[Shop, dict[str, Goal]]:
    """So many lures, four of a model, that share resin, glue, paints, hooks and rings."""
    stock = {"RESIN": chance.randint(20, 80) * 10**6, "GLUE": chance.randint(200, 900) * 1000}
    stock |= {f"PAINT{n}": chance.randint(1, 30) * 10**5 for n in range(12)}
    for n in range(5):
        stock |= {f"HOOK{n}": chance.randint(200, 6000), f"RING{n}": chance.randint(200, 6000)}
    one = Fraction(1)
    recipes, goals = {}, {}
    for n in range(lures):
        model = n // 4
        if f"BODY{model}" not in recipes:
            resin = Take(
                item="RESIN", per_piece=Fraction(chance.randint(4, 12) * 1000), per_batch_base=10**6
            )
            glue = Take(item="GLUE", per_piece=120 * one, per_batch_base=15_000)
            recipes[f"BODY{model}"] = Recipe(
                takes=(resin, glue), scrap_ratio=Fraction(3, 100), minutes=one
            )
            stock[f"BODY{model}"] = chance.randint(0, 300)
        paints = [
            Take(
                item=f"PAINT{paint}",
                per_piece=Fraction(chance.randint(100, 600) * 10, 4),
                per_batch_base=3000,
            )
            for paint in chance.sample(range(12), 3)
        ]
        recipes[f"PAINTED{n}"] = Recipe(
            takes=(Take(item=f"BODY{model}", per_piece=one), *paints),
            scrap_ratio=Fraction(4, 100),
            minutes=Fraction(3, 2),
        )
        rig = [Take(item=f"{part}{n % 5}", per_piece=2 * one) for part in ("HOOK", "RING")]
        recipes[f"LURE{n}"] = Recipe(
            takes=(Take(item=f"PAINTED{n}", per_piece=one), *rig),
            scrap_ratio=Fraction(1, 100),
            minutes=one,
        )
        goals[f"LURE{n}"] = Goal(
            chance.randint(2_000_000, 9_000_000), chance.choice((PIECES_CAP, 200, 500))
        )
    return Shop(stock_base=stock, recipes=recipes), goals


def print_mixes(shops: int, seed: int) -> None:
    """How near the mixes are to what none can beat, and how long they take."""
    print("\n| lures | bench hours | mixes | proved best | farthest from it | slowest |")  # noqa: T201
    print("|" + "---|" * 6)  # noqa: T201
    for lures in (5, 20, 40):
        for hours in (None, 40):
            gaps, taken = [], []
            for number in range(shops):
                chance = Random(f"{seed} {lures} {number}")  # noqa: S311 - not a secret
                shop, goals = mixed_shop(chance, lures)
                minutes_max = None if hours is None else Fraction(hours * 60)
                start = time.perf_counter()
                built = best(Question(shop=shop, goals=goals, minutes_max=minutes_max))
                taken.append(time.perf_counter() - start)
                assert built is not None
                gaps.append((built.value_max - built.value) / max(built.value_max, 1))
            print(  # noqa: T201
                f"| {lures} | {hours or 'any'} | {shops} | {gaps.count(0)} | {max(gaps):.2%}"
                f" | {max(taken):.1f} s |",
                flush=True,
            )


def rows(kind: Callable[[Random], Asked], shops: int, seed: int) -> Iterator[Asked]:
    """The answers in so many shops."""
    for number in range(shops):
        yield kind(Random(f"{seed} {number}"))  # noqa: S311 - not a secret


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.buildable", description=__doc__)
    parser.add_argument("--shops", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--mixes", type=int, default=5)
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
    print_mixes(options.mixes, options.seed)


if __name__ == "__main__":
    main()
