"""Live in made-up shops by the product's advice and by textbook rules, and print what came of it.

Goals: the fill rate within 1 point of its target on average, within 3 points in 90 % of items, at
no more stock than the best textbook rule, and under 1 % of use expired.
"""

from __future__ import annotations

import argparse
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

from tests.bench.advice.advisers import product
from tests.bench.advice.living import Adviser, Lived, live
from tests.bench.advice.shops import HISTORY_DAYS, KINDS, LIVED_DAYS, TARGETS, Wares, wares
from tests.bench.advice.textbook import RULES, textbook, tuned, turned

NEAR: Final = 0.03
SEED: Final = 2027
SHOPS: Final = 200

_TURNS_MOST: Final = 9


def main() -> int:
    """Print the tables; 1 if a goal is missed."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.advice", description=__doc__)
    parser.add_argument("--shops", type=int, default=SHOPS)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--luck", action="store_true", help="also who knows how shops are drawn")
    options = parser.parse_args()
    of = wares(shops=options.shops, seed=options.seed)
    print(f"{options.shops} shops of {len(KINDS)} items, seed {options.seed}\n")  # noqa: T201
    ours = _live(of, product(of))
    _print_kinds(of, ours)
    rows = [("the product", ours)]
    if options.luck:
        rows.append(
            ("the product, knowing how shops are drawn", _live(of, product(of, knows=True)))
        )
    turns = {rule: _all_turns(of, rule, ours) for rule in RULES}
    rows += [(rule, lived[1]) for rule, lived in turns.items()]
    _print_rules(of, rows)
    _print_even(of, ours, turns)
    return _print_goals(of, ours, turns)


def _live(of: Wares, adviser: Adviser) -> Lived:
    return live(
        need=of.need,
        lead_days=of.lead_days,
        start=of.start,
        shelf_days=of.shelf_days,
        from_day=HISTORY_DAYS,
        to_day=HISTORY_DAYS + LIVED_DAYS,
        leads=of.past_leads,
        adviser=adviser,
    )


def _all_turns(of: Wares, rule: str, ours: Lived) -> list[Lived]:
    """Lived by a rule, its knobs a step back, as tuned, and steps on until it fills as we do."""
    knob = tuned(of, rule)
    found: list[Lived] = []
    for turns in range(-1, _TURNS_MOST):
        found.append(_live(of, textbook(of, rule, turned(rule, knob, turns))))
        if len(found) > 1 and all(
            _figures(of, found[-1], part)[0] >= _figures(of, ours, part)[0]
            for part in _parts(of).values()
        ):
            break
    return found


def _parts(of: Wares) -> dict[str, npt.NDArray[np.bool_]]:
    """Items by their kind, and all."""
    return {name: of.kind == at for at, name in enumerate(KINDS)} | {"all": of.kind >= 0}


def _even(
    of: Wares, ours: Lived, turns: list[Lived], part: npt.NDArray[np.bool_]
) -> tuple[float, float]:
    """Days and worth of stock with which a rule fills some items as much as we do.

    Between two turns the line is straight; the last turn stands for what is beyond it.
    """
    wanted = _figures(of, ours, part)[0]
    points = [_figures(of, each, part) for each in turns]
    for before, now in pairwise(points):
        if now[0] >= wanted:
            share = max(0.0, (wanted - before[0]) / max(now[0] - before[0], 1e-9))
            days, worth = (before[at] + share * (now[at] - before[at]) for at in (1, 2))
            return days, worth
    return points[-1][1:]


def _figures(
    of: Wares, lived: Lived, part: npt.NDArray[np.bool_] | None = None
) -> tuple[float, float, float]:
    """Of some items, or all: mean miss, days of use in stock, worth of stock."""
    part = of.kind >= 0 if part is None else part
    miss = float((lived.fill - of.target)[part].mean())
    worth = float((lived.stock * of.price)[part].sum())
    return miss, float(_days(lived)[part].mean()), worth


def _days(lived: Lived) -> npt.NDArray[np.float64]:
    return lived.stock / np.maximum(lived.needed / LIVED_DAYS, 1e-9)


def _print_kinds(of: Wares, lived: Lived) -> None:
    print("| items | miss | within 3 | below | above | days in stock | expired | orders |")  # noqa: T201
    print("|---" * 8 + "|")  # noqa: T201
    parts = [(name, of.kind == at) for at, name in enumerate(KINDS)]
    parts += [(f"target {target:.0%}", of.target == target) for target in TARGETS]
    miss = lived.fill - of.target
    for name, part in [*parts, ("all", of.kind >= 0)]:
        shares = [(abs(miss) <= NEAR), (miss < -NEAR), (miss > NEAR)]
        said = [f"{each[part].mean():.1%}" for each in shares]
        expired = lived.expired[part].sum() / max(1, lived.needed[part].sum())
        print(  # noqa: T201
            f"| {name} | {100 * miss[part].mean():+.2f} | {' | '.join(said)} | "
            f"{_days(lived)[part].mean():.1f} | {expired:.2%} | {lived.orders[part].mean():.0f} |"
        )


def _print_rules(of: Wares, rows: list[tuple[str, Lived]]) -> None:
    print("\n| who advises | miss | within 3 | days in stock | worth of stock | expired |")  # noqa: T201
    print("|---" * 6 + "|")  # noqa: T201
    for name, lived in rows:
        miss, days, worth = _figures(of, lived)
        near = (abs(lived.fill - of.target) <= NEAR).mean()
        print(  # noqa: T201
            f"| {name} | {100 * miss:+.2f} | {near:.1%} | {days:.1f} | {worth:,.0f} | "
            f"{_expired(of, lived):.2%} |"
        )


def _expired(of: Wares, lived: Lived) -> float:
    """Of what spoils: expired over used."""
    spoils = of.shelf_days > 0
    return float(lived.expired[spoils].sum() / max(1, lived.needed[spoils].sum()))


def _print_even(of: Wares, ours: Lived, turns: dict[str, list[Lived]]) -> None:
    """Stock of rules that fill as much as we do, kind by kind."""
    print("\nDays in stock and worth of stock, textbook rules turned until they fill as much:\n")  # noqa: T201
    print(f"| items | the product | {' | '.join(turns)} |")  # noqa: T201
    print("|---" * (len(turns) + 2) + "|")  # noqa: T201
    for name, part in _parts(of).items():
        found = [
            _figures(of, ours, part)[1:],
            *(_even(of, ours, each, part) for each in turns.values()),
        ]
        said = " | ".join(f"{days:.1f}, {worth:,.0f}" for days, worth in found)
        print(f"| {name} | {said} |")  # noqa: T201


def _best_even(of: Wares, ours: Lived, turns: dict[str, list[Lived]]) -> tuple[float, float]:
    """Least days and worth of a rule that fills every kind as much as we do."""
    kinds = [part for name, part in _parts(of).items() if name != "all"]
    sums = [
        np.sum(
            [
                (part.mean() * days, worth)
                for part in kinds
                for days, worth in [_even(of, ours, lived, part)]
            ],
            axis=0,
        )
        for lived in turns.values()
    ]
    days, worth = np.min(sums, axis=0)
    return float(days), float(worth)


def _print_goals(of: Wares, ours: Lived, turns: dict[str, list[Lived]]) -> int:
    miss, days, worth = _figures(of, ours)
    near = float((abs(ours.fill - of.target) <= NEAR).mean())
    least_days, least_worth = _best_even(of, ours, turns)
    goals = [
        ("fill rate within 1 point on average", f"{100 * miss:+.2f}", abs(miss) <= 0.01),
        ("within 3 points in 90 % of items", f"{near:.1%}", near >= 0.9),
        (
            f"no more days in stock than textbook rules that fill as much: {least_days:.1f}",
            f"{days:.1f}",
            days <= least_days,
        ),
        (f"nor more worth: {least_worth:,.0f}", f"{worth:,.0f}", worth <= least_worth),
        (
            "under 1 % of what spoils expires",
            f"{_expired(of, ours):.2%}",
            _expired(of, ours) < 0.01,
        ),
    ]
    print("\n| goal | ours | reached |")  # noqa: T201
    print("|---|---|---|")  # noqa: T201
    for what, found, is_reached in goals:
        print(f"| {what} | {found} | {'yes' if is_reached else 'NO'} |")  # noqa: T201
    return 0 if all(is_reached for _, _, is_reached in goals) else 1


if __name__ == "__main__":
    raise SystemExit(main())
