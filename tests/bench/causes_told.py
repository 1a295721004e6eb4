"""Made-up years in which customers tell of failures, alone or beside the bench and checks.

Pieces of entries are boxed as they are made: most boxes hold pieces of one entry, some of two or
three. Boxes leave some days later, a few at a time to one customer, of whom some buy far more than
others. Of a piece that fails in use a customer tells with some chance and after some days; some
name a model alone. Of one box there is one complaint at most, for it was one parcel. What the
analysis is given is counted by the product's own arithmetic.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array, hstack

from batches.trace.rules.customers import (
    DAYS_TO_TELL,
    Left,
    Told,
    counts_of,
    shares_onward,
)
from batches.trace.rules.evidence import Results
from batches.trace.rules.flows import Flow
from tests.bench.causes_shops import DAYS, STATIONS, Floats, Shop

BOX: Final = 24
MIXED: Final = 0.3
"""Chance that a box begun is filled with the next entry's pieces, and not closed as it is."""
YEAR: Final = 365
TO_LEAVE: Final = 10.0
"""Days on average until a box leaves."""
CUSTOMERS: Final = 40
ORDER_MAX: Final = 4
"""Boxes that leave together."""
TOLD: Final = 0.3
"""Chance that a failed piece is told of."""
MODEL_ALONE: Final = 0.15
"""Share of complaints that name a model and no box."""
SEEN: Final = 0.5
"""Share of failures that the bench sees, where it looks."""
CHECKED: Final = 8
"""Pieces of an entry that a check tests, where it does."""
CHECKED_ENTRIES: Final = 0.5

Numbers = npt.NDArray[np.int64]
TellBy = Callable[[Floats], Floats]


def evenly(days: Floats) -> Floats:
    """Share told after so many days: as the product takes it to be."""
    return np.minimum(1.0, (days + 1) / DAYS_TO_TELL)


def soon(days: Floats) -> Floats:
    """Most within a month, the last long after 90 days."""
    return np.asarray(-np.expm1(-(days + 1) / 30.0), dtype=np.float64)


@dataclass(frozen=True)
class Telling:
    """How failures come to be known.

    Attributes:
        by: Share told after so many days.
        unlike: By how much customers differ in how often they tell: standard deviation over mean.
        is_tested: Whether the bench and a check find failures too.
    """

    by: TellBy = evenly
    unlike: float = 0.0
    is_tested: bool = False


@dataclass(frozen=True)
class Boxes:
    """What left.

    Attributes:
        flows: What was put into each.
        days: Since each left.
        often: Chance that a failed piece of each has been told of by now.
    """

    flows: list[Flow]
    days: Numbers
    often: Floats


@dataclass(kw_only=True)
class ToldShop(Shop):
    """A year whose cells are chances to find a failure: bench, check, then a box each.

    Attributes:
        times: (cells,) failures expected of a cell for a failure rate of one.
        boxes: The last cells.
        by_entry: (exposures, entries) from 0 to 1.
        tests: (cells but boxes,) kind of test.
    """

    times: Floats
    boxes: Boxes
    by_entry: csr_array
    tests: Numbers

    def found_at(self, rate: Floats) -> Floats:
        """(cells,) chance that one piece, or box, is found to have failed, by its failure rate."""
        return np.asarray(-np.expm1(-self.times * rate), dtype=np.float64)

    def seen(self) -> tuple[Results, csr_array]:
        """What the bench and the check found, and customers by share of each entry."""
        entries = range(self.by_entry.shape[1])
        flows = self.boxes.flows
        of_box = [(flow.posting_id, sum(flow.taken.values())) for flow in flows]
        shares_of = shares_onward(
            flows, {entry: {entry: 1.0} for entry in entries}, dict.fromkeys(entries, 1), ()
        )
        tested = len(self.tests)
        left = (
            Left(lot, pieces, days)
            for (lot, pieces), days in zip(of_box, self.boxes.days.tolist(), strict=True)
        )
        told = (Told(1, dict([of_box[box]])) for box in np.flatnonzero(self.failed[tested:]))
        counts = sorted(counts_of(left, told, shares_of).items())
        found = [entry for entry, _ in counts]
        results = Results(
            np.concatenate([self.tested[:tested], [count.tested for _, count in counts]]),
            np.concatenate([self.failed[:tested], [count.failed for _, count in counts]]),
            np.concatenate([self.entry[:tested], found]).astype(np.int64),
            np.concatenate([self.tests, np.full(len(found), 2)]),
        )
        exposures = csr_array(hstack([self.exposures[:, :tested], self.by_entry[:, found]]))
        return _of_kinds_that_found(results, exposures)


def _of_kinds_that_found(results: Results, exposures: csr_array) -> tuple[Results, csr_array]:
    """Without kinds of test that found nothing, numbered anew; all of them if none did."""
    found = np.unique(results.test[results.failed > 0])
    here = np.isin(results.test, found) if len(found) else np.ones(len(results.test), dtype=bool)
    kinds, test = np.unique(results.test[here], return_inverse=True)
    assert len(kinds)
    kept = Results(results.tested[here], results.failed[here], results.entry[here], test)
    return kept, exposures[:, np.flatnonzero(here)]


def told(shop: Shop, telling: Telling, rng: np.random.Generator) -> ToldShop:
    """The same year, as failures come to be known; only the bench tells of stations."""
    made = np.bincount(shop.entry, weights=shop.tested).astype(np.int64)
    boxes = _boxes(shop.day, made, telling, rng)
    is_outside = [name.rsplit(" ", 1)[0] not in {"station", "cavity"} for name in shop.names]
    of_entry = shop.exposures[:, np.arange(0, len(shop.entry), STATIONS)]
    of_entry = csr_array(of_entry * np.array(is_outside, dtype=np.float64)[:, None])
    at_work = [of_entry @ _shares(boxes.flows, len(made))]
    pieces = np.array([sum(flow.taken.values()) for flow in boxes.flows])
    entry, tested, times = [np.zeros_like(pieces)], [np.ones_like(pieces)], [pieces * boxes.often]
    tests: list[int] = []
    if telling.is_tested:
        checked = np.flatnonzero(rng.random(len(made)) < CHECKED_ENTRIES)
        at_work = [shop.exposures, of_entry[:, checked], *at_work]
        entry = [shop.entry, checked, *entry]
        tested = [shop.tested, np.full(len(checked), CHECKED), *tested]
        times = [np.full(len(shop.tested), SEEN), np.ones(len(checked)), *times]
        tests = [0] * len(shop.tested) + [1] * len(checked)
    exposures = csr_array(hstack(at_work, format="csr"))
    # A bad lot of which nothing has left yet stays: nobody can tell of it.
    met = np.union1d(
        np.flatnonzero(exposures.sum(axis=1)), np.array(shop.truth, dtype=int)
    ).tolist()
    return ToldShop(
        names=[shop.names[number] for number in met],
        exposures=exposures[met],
        entry=np.concatenate(entry),
        tested=np.concatenate(tested),
        truth=tuple(met.index(number) for number in shop.truth),
        rates=shop.rates,
        day=shop.day,
        times=np.concatenate(times),
        boxes=boxes,
        by_entry=of_entry[met],
        tests=np.array(tests, dtype=np.int64),
    )


def _boxes(day: Numbers, made: Numbers, telling: Telling, rng: np.random.Generator) -> Boxes:
    """What was boxed in the order it was made, and had left by the end of the year."""
    filled: list[dict[int, int]] = [{}]
    for entry, pieces in enumerate(made.tolist()):
        if filled[-1] and rng.random() >= MIXED:
            filled.append({})
        left = pieces
        while left:
            room = BOX - sum(filled[-1].values())
            if not room:
                filled.append({})
                continue
            filled[-1][entry] = min(room, left)
            left -= filled[-1][entry]
    first = len(made)  # lots of entries go by the entry's number, those of boxes from here on
    flows = [
        Flow(first + box, its, {first + box: sum(its.values())}) for box, its in enumerate(filled)
    ]
    orders = np.repeat(np.arange(len(flows)), rng.integers(1, ORDER_MAX + 1, len(flows)))[
        : len(flows)
    ]
    customer = rng.choice(CUSTOMERS, len(flows), p=_BUY)[orders]
    packed = np.array([day[max(its)] for its in filled]) * YEAR / DAYS
    days = (YEAR - packed - rng.exponential(TO_LEAVE, len(flows))[orders]).astype(np.int64)
    tells = np.full(CUSTOMERS, TOLD)
    if telling.unlike:
        shape = telling.unlike**-2
        tells = np.minimum(1.0, TOLD * rng.gamma(shape, 1 / shape, CUSTOMERS))
    often = (1 - MODEL_ALONE) * tells[customer] * telling.by(days.astype(np.float64))
    gone = np.flatnonzero(days >= 0)
    return Boxes([flows[box] for box in gone], days[gone], often[gone])


_BUY: Final = 1 / np.arange(1, CUSTOMERS + 1) / (1 / np.arange(1, CUSTOMERS + 1)).sum()
"""Share that each customer buys."""


def _shares(flows: list[Flow], entries: int) -> csr_array:
    """(entries, boxes) share of each entry's pieces in each box."""
    parts = [
        (pieces / sum(flow.taken.values()), entry, box)
        for box, flow in enumerate(flows)
        for entry, pieces in flow.taken.items()
    ]
    shares, places, boxes = zip(*parts, strict=True)
    return csr_array((shares, (places, boxes)), shape=(entries, len(flows)))
