"""How often the true cause is named, in made-up shops whose cause is known.

`python -m tests.bench.causes --shops 500 --seed 1`. A shop is a year of gluing; one thing in it
raises the failure rate from 0.3 % to 2 to 10 %. Beside the findings stands an oracle that knows the
true rates, how often each customer tells, and the kind of cause, and picks by likelihood: no method
can do better on average.
"""

from __future__ import annotations

import argparse
import math
import time
from dataclasses import dataclass, field
from typing import Final, NamedTuple

import numpy as np

from batches.trace.rules.causes import ALARM_P, findings
from tests.bench.causes_shops import (
    BASE_RATE,
    RATES,
    Plant,
    Shop,
    age,
    nothing,
    one,
    one_of_each,
    year,
)
from tests.bench.causes_told import Telling, soon, told

TOLD_APART: Final = math.log(100)
"""Nats by which the truth is expected to beat its nearest rival where it can be told apart."""

WARY_DRAWS: Final = 400


class Scenario(NamedTuple):
    """What is at fault, and how that comes to be known: by the bench if nothing is said."""

    plant: Plant
    is_confounded: bool = False
    telling: Telling | None = None


UNEVENLY: Final = Telling(soon, unlike=0.5)
SCENARIOS: Final = {
    "a bad adhesive lot": Scenario(one("adhesive")),
    "a bad cavity": Scenario(one("cavity")),
    "a bad station": Scenario(one("station")),
    "a lot nearly always on one wheel": Scenario(one("adhesive"), is_confounded=True),
    "two causes at once": Scenario(one_of_each("adhesive", "cavity")),
    "a slow drift with age since opening": Scenario(age),
    "nothing at fault": Scenario(nothing),
    "customers: a bad adhesive lot": Scenario(one("adhesive"), telling=Telling()),
    "customers, unequal: a bad adhesive lot": Scenario(one("adhesive"), telling=UNEVENLY),
    "customers: two bad lots": Scenario(one_of_each("adhesive", "resin"), telling=Telling()),
    "customers: nothing at fault": Scenario(nothing, telling=Telling()),
    "customers, unequal: nothing at fault": Scenario(nothing, telling=UNEVENLY),
    "customers, very unequal: nothing at fault": Scenario(
        nothing, telling=Telling(soon, unlike=1.0)
    ),
    "bench, check and customers: a bad adhesive lot": Scenario(
        one("adhesive"), telling=Telling(soon, unlike=0.5, is_tested=True)
    ),
}
"""New ones at the end: the place of each is part of its seed."""


def shop_of(scenario: str, seed: int, number: int) -> Shop:
    """One made-up shop; the same for the same arguments."""
    plant, is_confounded, telling = SCENARIOS[scenario]
    rng = np.random.default_rng([seed, list(SCENARIOS).index(scenario), number])
    shop = year(rng, is_confounded=is_confounded)
    shop.truth = plant(shop, rng)
    low, high = np.log(RATES)
    shop.rates = tuple(float(np.exp(rng.uniform(low, high))) for _ in shop.truth)
    if telling is not None:
        shop = told(shop, telling, rng)
    shop.failed = rng.binomial(shop.tested, shop.chances(shop.truth)).astype(np.int64)
    return shop


def can_be_told_apart(shop: Shop) -> bool:
    """Whether the truth is expected to beat its nearest rival by far, whatever was drawn."""
    return all(_rival_margin(shop, place) >= TOLD_APART for place in range(len(shop.truth)))


def _rival_margin(shop: Shop, place: int) -> float:
    """Nats a rival loses on average when it stands in for one cause, the nearest rival's."""
    chance = shop.chances(shop.truth)
    least = math.inf
    for number in range(len(shop.names)):
        if number in shop.truth:
            continue
        rival = shop.chances((*shop.truth[:place], number, *shop.truth[place + 1 :]))
        lost = shop.tested * (
            chance * np.log(chance / rival) + (1 - chance) * np.log((1 - chance) / (1 - rival))
        )
        least = min(least, float(lost.sum()))
    return least


def oracle(shop: Shop) -> int:
    """The exposure the oracle names first: the likeliest single cause, others being known."""
    known = shop.truth[1:]
    rates = shop.rates
    best, most = -1, -math.inf
    for number in range(len(shop.names)):
        if number in known:
            continue
        value = shop.log_likelihood((number, *known))
        if value > most:
            best, most = number, value
    assert rates == shop.rates
    return best


def is_seen_by_wary(shop: Shop, rng: np.random.Generator) -> bool:
    """Whether an oracle names the truth that does not know that anything is at fault.

    It knows all rates else, and names nothing that chance would make stand out as far too often.
    """
    known = shop.truth[1:]
    excess = shop.rates[0] - BASE_RATE
    excesses = [rate - BASE_RATE for rate in shop.rates[1:]]
    rate = BASE_RATE + sum(
        (each * shop.dense(number) for each, number in zip(excesses, known, strict=True)),
        start=np.zeros(len(shop.tested)),
    )
    nothing_more = shop.found_at(rate)
    gains, losses = [], []
    for number in range(len(shop.names)):
        chance = shop.found_at(rate + excess * shop.dense(number))
        kept = np.log1p(-chance) - np.log1p(-nothing_more)
        gains.append(np.log(chance / nothing_more) - kept)
        losses.append(shop.tested @ kept)
    drawn = rng.binomial(shop.tested, nothing_more, (WARY_DRAWS, len(rate)))
    logs = np.array(gains) @ np.vstack([shop.failed, drawn]).T + np.array(losses)[:, None]
    logs[list(known)] = -math.inf
    mine, *others = logs.max(axis=0)
    is_beyond_chance = np.mean(np.array(others) >= mine) <= ALARM_P
    return bool(is_beyond_chance and np.argmax(logs[:, 0]) == shop.truth[0])


@dataclass
class Tally:
    """What came of the shops of a scenario."""

    shops: int = 0
    apart: int = 0
    first: int = 0
    first_apart: int = 0
    oracle: int = 0
    oracle_apart: int = 0
    wary_apart: int = 0
    tied: int = 0
    alarms: int = 0
    both: int = 0
    seconds: float = 0.0
    misses: list[str] = field(default_factory=list)


def tally(scenario: str, *, seed: int, shops: int) -> Tally:
    """Run the shops of one scenario."""
    count = Tally()
    for number in range(shops):
        shop = shop_of(scenario, seed, number)
        began = time.process_time()
        found = findings(*shop.seen())
        count.seconds += time.process_time() - began
        count.shops += 1
        count.alarms += bool(found.causes)
        if not shop.truth:
            continue
        named = [cause.number for cause in found.causes]
        is_apart = can_be_told_apart(shop)
        is_first = bool(named) and named[0] in shop.truth
        groups = [set(cause.tied) for cause in found.causes]
        is_tied = any(set(shop.truth) & group for group in [*groups, set(found.nearest)])
        is_oracle = oracle(shop) == shop.truth[0]
        count.apart += is_apart
        count.first += is_first
        count.first_apart += is_first and is_apart
        count.oracle += is_oracle
        count.oracle_apart += is_oracle and is_apart
        rng = np.random.default_rng([seed, list(SCENARIOS).index(scenario), number, 1])
        count.wary_apart += is_apart and is_seen_by_wary(shop, rng)
        count.tied += is_tied
        count.both += set(shop.truth) <= set(named)
        if is_apart and not is_first:
            says = [shop.names[each] for each in named] or [f"nothing (chance {found.chance:.3f})"]
            truths = [shop.names[each] for each in shop.truth]
            rates = ", ".join(f"{rate:.1%}" for rate in shop.rates)
            count.misses.append(f"shop {number}: {truths} at {rates}; named {says}")
    return count


def main() -> None:
    """Print the table and the misses."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.causes", description=__doc__)
    parser.add_argument("--shops", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--scenario", choices=list(SCENARIOS))
    options = parser.parse_args()
    names = [options.scenario] if options.scenario else list(SCENARIOS)
    print(  # noqa: T201
        "| scenario | shops | alarm | first | oracle first | can be told apart | of these first |"
        " oracle | wary oracle | in the tied or nearest | all causes | processor s |\n"
        + "|---" * 12
        + "|"
    )
    misses = []
    for name in names:
        count = tally(name, seed=options.seed, shops=options.shops)
        apart = max(count.apart, 1)
        print(  # noqa: T201
            f"| {name} | {count.shops} | {count.alarms / count.shops:.1%} "
            f"| {count.first / count.shops:.1%} | {count.oracle / count.shops:.1%} "
            f"| {count.apart} | {count.first_apart / apart:.1%} | {count.oracle_apart / apart:.1%} "
            f"| {count.wary_apart / apart:.1%} "
            f"| {count.tied / count.shops:.1%} | {count.both / count.shops:.1%} "
            f"| {count.seconds / count.shops:.2f} |",
            flush=True,
        )
        misses += [f"{name}, {miss}" for miss in count.misses]
    print("\nMisses where it can be told apart:\n" + "\n".join(misses))  # noqa: T201


if __name__ == "__main__":
    main()
