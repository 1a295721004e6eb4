"""Made-up years of gluing, in which one thing or two raise the failure rate.

Entries on two wheels, a piece of each station tested at a time, some 350 exposures.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array

from batches.trace.rules.evidence import Results

BASE_RATE: Final = 0.003
RATES: Final = (0.02, 0.10)
STATIONS: Final = 12
DAYS: Final = 250

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
        day: (entries,) working day of each.
    """

    names: list[str]
    exposures: csr_array
    entry: npt.NDArray[np.int64]
    tested: npt.NDArray[np.int64]
    truth: tuple[int, ...] = ()
    rates: tuple[float, ...] = ()
    failed: npt.NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    day: npt.NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))

    def dense(self, number: int) -> Floats:
        """(cells,) how far an exposure is at work."""
        return np.asarray(self.exposures[[number]].toarray()[0], dtype=np.float64)

    def found_at(self, rate: Floats) -> Floats:
        """(cells,) chance that one piece is found to have failed, by its failure rate."""
        return rate

    def chances(self, numbers: tuple[int, ...]) -> Floats:
        """(cells,) the same if those were the causes."""
        chance = np.full(len(self.tested), BASE_RATE)
        for number, rate in zip(numbers, self.rates, strict=True):
            chance += (rate - BASE_RATE) * self.dense(number)
        return self.found_at(chance)

    def log_likelihood(self, numbers: tuple[int, ...]) -> float:
        """Of the failures, if those were the causes, at the true rates."""
        chance = self.chances(numbers)
        return float(
            (self.failed * np.log(chance) + (self.tested - self.failed) * np.log1p(-chance)).sum()
        )

    def seen(self) -> tuple[Results, csr_array]:
        """What the analysis is given: the failures, found by one kind of test; and exposures."""
        results = Results(
            self.tested.astype(np.float64),
            self.failed.astype(np.float64),
            self.entry,
            np.zeros_like(self.entry),
        )
        return results, self.exposures


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
        day=day,
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


def one(kind: str, *, least: int = 150) -> Plant:
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


def one_of_each(*kinds: str) -> Plant:
    """One of each kind."""

    def plant(shop: Shop, rng: np.random.Generator) -> tuple[int, ...]:
        return tuple(one(kind)(shop, rng)[0] for kind in kinds)

    return plant


def age(shop: Shop, rng: np.random.Generator) -> tuple[int, ...]:
    """How old the adhesive was."""
    return (shop.names.index("age since opening"),)


def nothing(shop: Shop, rng: np.random.Generator) -> tuple[int, ...]:
    """Nothing is at fault."""
    return ()
