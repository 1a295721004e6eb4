"""Shops lived day by day under somebody's advice: what came, what was used, what was short.

A morning brings what was ordered, then the shop looks and orders if it is a day to look, then it
works. What is short is used as soon as it comes, so the ledger shows use, not need. Orders of one
item come in the order in which they were placed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from tests.bench.advice.shops import LIVED_DAYS, REVIEW_DAYS

Ints = npt.NDArray[np.int64]


@dataclass(slots=True, eq=False)
class Shelves:
    """Where every item stands on a morning.

    Attributes:
        used: (items, days) int64: the ledger's use, history and all.
        came: (items, days) int64: what came in.
        leads: Lead times of what came, oldest first.
    """

    shelf_days: Ints
    used: Ints
    came: Ints
    on_hand: Ints
    on_order: Ints
    owed: Ints
    leads: list[list[int]]
    expired: Ints
    used_sum: Ints
    first_day: int
    due: dict[int, list[tuple[int, int, int]]] = field(default_factory=dict)

    def endings(self, item: int, day: int) -> list[tuple[int, int]]:
        """(days left, pieces) of what is on hand of one item that spoils."""
        life = int(self.shelf_days[item])
        left = int(self.on_hand[item])
        found = []
        for came_on in range(day, max(self.first_day, day - life) - 1, -1):
            qty = min(left, int(self.came[item, came_on]))
            if qty:
                found.append((came_on + life - day, qty))
                left -= qty
        return found


Adviser = Callable[[int, Shelves], Ints]
"""Pieces to order of every item on a day, 0 for none."""


@dataclass(frozen=True, slots=True, eq=False)
class Lived:
    """What came of it: arrays of items; `stock` is the mean on hand at the end of a day."""

    needed: Ints
    met: Ints
    stock: npt.NDArray[np.float64]
    expired: Ints
    orders: Ints

    @property
    def fill(self) -> npt.NDArray[np.float64]:
        """Share of the need that was on the shelf when it was needed; 1 without need."""
        return np.where(self.needed > 0, self.met / np.maximum(self.needed, 1), 1.0)

    @property
    def days(self) -> npt.NDArray[np.float64]:
        """Stock in days of use."""
        return self.stock / np.maximum(self.needed / LIVED_DAYS, 1e-9)


def live(
    *,
    need: Ints,
    lead_days: Ints,
    start: Ints,
    shelf_days: Ints,
    from_day: int,
    to_day: int,
    leads: list[list[int]],
    adviser: Adviser,
) -> Lived:
    """Days `from_day` to `to_day` of every item; those before are on record."""
    items = len(need)
    used = need.copy()
    used[:, from_day:] = 0
    shelves = Shelves(
        shelf_days=shelf_days,
        used=used,
        came=np.zeros((items, to_day + 1), np.int64),
        on_hand=start.copy(),
        on_order=np.zeros(items, np.int64),
        owed=np.zeros(items, np.int64),
        leads=[list(each) for each in leads],
        expired=np.zeros(items, np.int64),
        used_sum=np.zeros(items, np.int64),
        first_day=from_day,
    )
    shelves.came[:, from_day] = start
    # What came so many days ago and is not used or gone yet expires.
    came_sum = np.zeros((items, to_day + 1), np.int64)
    met = np.zeros(items, np.int64)
    stock = np.zeros(items, np.float64)
    placed = np.zeros(items, np.int64)
    last_arrival = np.zeros(items, np.int64)
    spoils = np.flatnonzero(shelf_days)
    for day in range(from_day, to_day):
        _arrive(shelves, day)
        came_sum[:, day] = came_sum[:, day - 1] + shelves.came[:, day]
        _expire(shelves, spoils, came_sum, day)
        _serve(shelves, shelves.owed, day)
        if (day - from_day) % REVIEW_DAYS == 0:
            wanted = adviser(day, shelves)
            for item in np.flatnonzero(wanted):
                took = int(lead_days[item, placed[item] % lead_days.shape[1]])
                arrives = max(day + took, int(last_arrival[item]))
                last_arrival[item] = arrives
                placed[item] += 1
                shelves.on_order[item] += wanted[item]
                shelves.due.setdefault(arrives, []).append(
                    (int(item), arrives - day, int(wanted[item]))
                )
        met += _serve(shelves, need[:, day], day)
        stock += shelves.on_hand
    needed = need[:, from_day:to_day].sum(axis=1)
    return Lived(needed, met, stock / (to_day - from_day), shelves.expired, placed)


def _arrive(shelves: Shelves, day: int) -> None:
    for item, took, qty in shelves.due.pop(day, []):
        shelves.came[item, day] += qty
        shelves.on_hand[item] += qty
        shelves.on_order[item] -= qty
        shelves.leads[item].append(took)


def _expire(shelves: Shelves, spoils: Ints, came_sum: Ints, day: int) -> None:
    gone_on = day - shelves.shelf_days[spoils]
    is_any = gone_on >= shelves.first_day
    rows = spoils[is_any]
    gone = came_sum[rows, gone_on[is_any]] - shelves.used_sum[rows] - shelves.expired[rows]
    gone = np.clip(gone, 0, shelves.on_hand[rows])
    shelves.expired[rows] += gone
    shelves.on_hand[rows] -= gone


def _serve(shelves: Shelves, wanted: Ints, day: int) -> Ints:
    """Use what there is; the rest is owed. What is owed already is served by name."""
    served = np.minimum(shelves.on_hand, wanted)
    if wanted is shelves.owed:
        shelves.owed = wanted - served
    else:
        shelves.owed = shelves.owed + wanted - served
    shelves.on_hand = shelves.on_hand - served
    shelves.used[:, day] += served
    shelves.used_sum += served
    return served
