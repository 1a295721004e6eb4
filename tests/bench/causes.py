"""How often the true cause is named, in made-up shops whose cause is known.

`python -m tests.bench.causes --shops 500 --seed 1`. A shop is a year of gluing: entries on two
wheels, a piece of each station tested at a time. One thing in it raises the failure rate from 0.3 %
to 2 to 10 %. Beside the findings stands an oracle that knows the true rates and the kind of cause,
and picks by likelihood: no method can do better on average.
"""

from __future__ import annotations

import argparse
import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array

from batches.trace.rules.causes import findings
from batches.trace.rules.evidence import Results

BASE_RATE: Final = 0.003
RATES: Final = (0.02, 0.10)
STATIONS: Final = 12
DAYS: Final = 250
TOLD_APART: Final = math.log(100)
"""Nats by which the truth is expected to beat its nearest rival where it can be told apart."""

Floats = npt.NDArray[np.float64]


@dataclass
class Shop:
    """A made-up year.

    Attributes:
        names: Of the exposures.
        exposures: (exposures, cells) from 0 to 1.
        entry: (cells,) entry of each.
        tested: (cells,) pieces.
        truth: Numbers of the causes.
        rates: Failure rate of each cause, fully at work.
        failed: (cells,) pieces.
    """

    names: list[str]
    exposures: csr_array
    entry: npt.NDArray[np.int64]
    tested: npt.NDArray[np.int64]
    truth: tuple[int, ...] = ()
    rates: tuple[float, ...] = ()
    failed: npt.NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))

    def dense(self, number: int) -> Floats:
        """(cells,) how far an exposure is at work."""
        return np.asarray(self.exposures[[number]].toarray()[0], dtype=np.float64)

    def chances(self, numbers: tuple[int, ...]) -> Floats:
        """(cells,) failure rate if those were the causes."""
        chance = np.full(len(self.tested), BASE_RATE)
        for number, rate in zip(numbers, self.rates, strict=True):
            chance += (rate - BASE_RATE) * self.dense(number)
        return chance

    def log_likelihood(self, numbers: tuple[int, ...]) -> float:
        """Of the failures, if those were the causes, at the true rates."""
        chance = self.chances(numbers)
        return float(
            (self.failed * np.log(chance) + (self.tested - self.failed) * np.log1p(-chance)).sum()
        )

    def results(self) -> Results:
        """The failures, found by one kind of test."""
        return Results(
            self.tested.astype(np.float64),
            self.failed.astype(np.float64),
            self.entry,
            np.zeros_like(self.entry),
        )


class _Columns:
    """Exposures by name, each a value a cell."""

    def __init__(self) -> None:
        self.names: list[str] = []
        self.rows: list[Floats] = []
        self._seen: set[bytes] = set()

    def add(self, name: str, values: Floats) -> None:
        """Leave out what no cell or every cell has, and what another has the same."""
        values = values.astype(np.float64)
        key = values.tobytes()
        if values.min() == values.max() or key in self._seen:
            return
        self._seen.add(key)
        self.names.append(name)
        self.rows.append(values)

    def levels(self, name: str, values: npt.NDArray[Any]) -> None:
        """One exposure a level."""
        for level in np.unique(values):
            self.add(f"{name} {level}", values == level)


def year(rng: np.random.Generator, *, is_confounded: bool = False) -> Shop:
    """A year's entries and what each tested piece went through."""
    entries = int(rng.integers(350, 600))
    day = np.sort(rng.integers(0, DAYS, entries))
    wheel = rng.integers(0, 2, entries)
    columns = _Columns()
    cells = np.repeat(np.arange(entries), STATIONS)
    station = np.tile(np.arange(STATIONS), entries)
    cavity = rng.integers(0, 4, len(cells))

    def of_entry(values: npt.NDArray[Any]) -> npt.NDArray[Any]:
        return values[cells]

    adhesive, age = _adhesive(rng, day)
    if is_confounded:  # one lot is nearly always on one wheel
        lot = int(rng.choice(np.unique(adhesive)))
        mine = adhesive == lot
        wheel[mine] = np.where(rng.random(int(mine.sum())) < 0.9, 0, 1)
    columns.levels("adhesive", of_entry(adhesive))
    columns.levels("adhesive supplier", of_entry(adhesive % 3))
    for item, lots in (("resin", 14), ("hanger", 20), ("line tie", 16), ("ballast", 9)):
        columns.levels(item, of_entry(_lots(rng, day, lots)))
    for part in ("left half", "right half"):
        columns.levels(part, of_entry(_lots(rng, day, 90)))
    columns.levels("wheel", of_entry(wheel))
    columns.levels("station", of_entry(wheel) * STATIONS + station)
    columns.levels("cavity", cavity)
    columns.levels("operator", of_entry(rng.integers(0, 4, entries)))
    columns.levels("shift", of_entry(rng.integers(0, 2, entries)))
    columns.levels("humidity band", of_entry(_season(rng, day)))
    columns.levels("month", of_entry(day // 21))
    columns.add("age since opening", of_entry(age))
    pieces = rng.integers(2, 5, entries)
    return Shop(
        names=columns.names,
        exposures=csr_array(np.array(columns.rows)),
        entry=cells,
        tested=of_entry(pieces).astype(np.int64),
    )


def _adhesive(
    rng: np.random.Generator, day: npt.NDArray[np.int64]
) -> tuple[npt.NDArray[np.int64], Floats]:
    """Lot of each entry, two on the shelf at a time, and age of the open bottle as a share."""
    lot = day // 21 + rng.integers(0, 2, len(day))
    opened_every = 8
    return lot, (day % opened_every) / (opened_every - 1)


def _lots(rng: np.random.Generator, day: npt.NDArray[np.int64], lots: int) -> npt.NDArray[np.int64]:
    """Lots used one after the other, with some days of overlap."""
    span = DAYS / lots
    return np.asarray(((day + rng.uniform(-0.3, 0.3, len(day)) * span) / span).astype(np.int64))


def _season(rng: np.random.Generator, day: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    wave = np.sin(2 * np.pi * day / DAYS) + rng.normal(0, 0.5, len(day))
    return np.digitize(wave, [-0.5, 0.5])


Plant = Callable[[Shop, np.random.Generator], tuple[int, ...]]


def _one(kind: str, *, least: int = 150) -> Plant:
    """Any exposure of a kind that enough tested pieces went through."""

    def plant(shop: Shop, rng: np.random.Generator) -> tuple[int, ...]:
        tested = shop.exposures @ shop.tested
        fitting = [
            number
            for number, name in enumerate(shop.names)
            if name.rsplit(" ", 1)[0] == kind and tested[number] >= least
        ]
        return (int(rng.choice(fitting)),)

    return plant


def _two(shop: Shop, rng: np.random.Generator) -> tuple[int, ...]:
    (one,) = _one("adhesive")(shop, rng)
    (other,) = _one("cavity")(shop, rng)
    return (one, other)


def _age(shop: Shop, rng: np.random.Generator) -> tuple[int, ...]:
    return (shop.names.index("age since opening"),)


SCENARIOS: Final[dict[str, tuple[Plant, bool]]] = {
    "a bad adhesive lot": (_one("adhesive"), False),
    "a bad cavity": (_one("cavity"), False),
    "a bad station": (_one("station"), False),
    "a lot nearly always on one wheel": (_one("adhesive"), True),
    "two causes at once": (_two, False),
    "a slow drift with age since opening": (_age, False),
    "nothing at fault": (lambda shop, rng: (), False),
}


def shop_of(scenario: str, seed: int, number: int) -> Shop:
    """One made-up shop; the same for the same arguments."""
    plant, is_confounded = SCENARIOS[scenario]
    rng = np.random.default_rng([seed, list(SCENARIOS).index(scenario), number])
    shop = year(rng, is_confounded=is_confounded)
    shop.truth = plant(shop, rng)
    low, high = np.log(RATES)
    shop.rates = tuple(float(np.exp(rng.uniform(low, high))) for _ in shop.truth)
    shop.failed = rng.binomial(shop.tested, shop.chances(shop.truth)).astype(np.int64)
    return shop


def can_be_told_apart(shop: Shop) -> bool:
    """Whether the truth is expected to beat its nearest rival by far, whatever was drawn."""
    for place in range(len(shop.truth)):
        chance = shop.chances(shop.truth)
        rivals = _rival_margins(shop, place, chance)
        if rivals < TOLD_APART:
            return False
    return True


def _rival_margins(shop: Shop, place: int, chance: Floats) -> float:
    """Nats a rival loses on average when it stands in for one cause, the nearest rival's."""
    excess = shop.rates[place] - BASE_RATE
    without = chance - excess * shop.dense(shop.truth[place])
    least = math.inf
    for number in range(len(shop.names)):
        if number in shop.truth:
            continue
        rival = without + excess * shop.dense(number)
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


@dataclass
class Tally:
    """What came of the shops of a scenario."""

    shops: int = 0
    apart: int = 0
    first: int = 0
    first_apart: int = 0
    oracle: int = 0
    oracle_apart: int = 0
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
        found = findings(shop.results(), shop.exposures)
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
        " oracle | in the tied or nearest | all causes | processor s |\n" + "|---" * 11 + "|"
    )
    misses = []
    for name in names:
        count = tally(name, seed=options.seed, shops=options.shops)
        apart = max(count.apart, 1)
        print(  # noqa: T201
            f"| {name} | {count.shops} | {count.alarms / count.shops:.1%} "
            f"| {count.first / count.shops:.1%} | {count.oracle / count.shops:.1%} "
            f"| {count.apart} | {count.first_apart / apart:.1%} | {count.oracle_apart / apart:.1%} "
            f"| {count.tied / count.shops:.1%} | {count.both / count.shops:.1%} "
            f"| {count.seconds / count.shops:.2f} |",
            flush=True,
        )
        misses += [f"{name}, {miss}" for miss in count.misses]
    print("\nMisses where it can be told apart:\n" + "\n".join(misses))  # noqa: T201


if __name__ == "__main__":
    main()
