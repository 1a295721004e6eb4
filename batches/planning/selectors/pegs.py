"""Which plan line or customer order needs an item, week by week. No statement."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np

from batches.planning.rules.pegging import STOCK, Need, Peg, Supply, above, covered, shared
from batches.planning.rules.requirements import needs_base
from batches.planning.selectors.planning import WEEKS, Planning
from batches.planning.selectors.wanted import Root

FOR_STOCK: Final = (Peg(STOCK, 1),)
ON_HAND, COMING, PLANNED = "on_hand", "coming", "planned"
"""Names of supplies, with 0, the place in `Planning.coming`, or the week."""


class Taker(NamedTuple):
    """What takes an item in a week: a root, a batch, or planned orders of another item.

    Attributes:
        kind: "plan", "order", "batch" or "item".
        code: Of the plan, order, batch or item.
    """

    week: int
    kind: str
    code: str
    qty_base: int


class RootPeg(NamedTuple):
    """An amount that a root needs in a week; `root` None: for stock."""

    week: int
    root: Root | None
    qty_base: int


class Pegged(NamedTuple):
    """Who takes an item and for whom; both add up to what is taken in each week."""

    takers: list[Taker]
    pegs: list[RootPeg]


def pegged(planned: Planning, place: int) -> Pegged:
    """Of one item, through everything that it goes into."""
    return Pegging(planned).of(place)


class Pegging:
    """Who takes what, worked out from the top down as far as it is asked for."""

    def __init__(self, planned: Planning) -> None:
        self.planned = planned
        lines = planned.inputs.lines
        self.lines_of: dict[int, list[int]] = defaultdict(list)
        for line, child in enumerate(lines.child.tolist()):
            self.lines_of[child].append(line)
        self.coming_of: dict[int, list[int]] = defaultdict(list)
        self.roots_of: dict[int, list[int]] = defaultdict(list)
        self.parents: dict[int, set[int]] = defaultdict(set)
        for child, taking in self.lines_of.items():
            self.parents[child] |= set(lines.parent[taking].tolist())
        self.taken_of: dict[int, list[tuple[int, int]]] = defaultdict(list)
        for number, each in enumerate(planned.coming):
            place = planned.places[each.item_id]
            self.coming_of[place].append(number)
            for item_id, qty_base in each.batch.takes.items() if each.batch else ():
                self.taken_of[planned.places[item_id]].append((number, qty_base))
                self.parents[planned.places[item_id]].add(place)
        for root, asked in enumerate(planned.wanted):
            self.roots_of[planned.places[asked.item_id]].append(root)
        self.released: dict[tuple[int, int], list[Peg]] = {}
        self.given: dict[int, list[Peg]] = {}
        self.done: set[int] = set()

    def of(self, place: int) -> Pegged:
        """Who takes an item, and for whom in the end."""
        self._go_to(place)
        found = list(self._needs(place))
        takers: dict[tuple[int, str, str], int] = defaultdict(int)
        pegs: dict[tuple[int, int], int] = defaultdict(int)
        for (kind, code), need in found:
            takers[need.week, kind, code] += need.qty_base
            pegs[need.week, need.root] += need.qty_base
        return Pegged(
            [Taker(*key, qty) for key, qty in sorted(takers.items())],
            [
                RootPeg(week, None if root == STOCK else self.planned.wanted[root].root, qty)
                for (week, root), qty in sorted(pegs.items())
            ],
        )

    def covers(self, place: int) -> dict[tuple[str, int], list[Peg]]:
        """What each supply of an item is for: on hand, what comes, and planned orders by week."""
        self._go_to(place)
        return self._cover(place)

    def _go_to(self, place: int) -> None:
        for parent in above(place, self.parents):
            if parent != place and parent not in self.done:
                self._cover(parent)

    def _needs(self, place: int) -> Iterator[tuple[tuple[str, str], Need]]:
        """What is taken of an item, by whom, and for which root."""
        planned = self.planned
        for root in self.roots_of[place]:
            asked = planned.wanted[root]
            if asked.week < WEEKS:
                need = Need(max(0, asked.week), root, asked.qty_base)
                yield (asked.root.kind, asked.root.code), need
        for number, qty_base in self.taken_of[place]:
            batch = planned.coming[number]
            if batch.start_week < WEEKS:
                # A batch made to an older bill may give what stands below what it takes.
                for peg in shared(qty_base, self.given.get(number, FOR_STOCK)):
                    yield ("batch", batch.code), Need(batch.start_week, peg.root, peg.qty_base)
        yield from self._of_lines(place)

    def _of_lines(self, place: int) -> Iterator[tuple[tuple[str, str], Need]]:
        taking = self.lines_of.get(place)
        if not taking:
            return
        found = self.planned.found
        lines = self.planned.inputs.lines.of(np.array(taking))
        needs = needs_base(lines, found.started_base[lines.parent], found.batches[lines.parent])
        for row, week in np.argwhere(needs).tolist():
            parent = int(lines.parent[row])
            code = self.planned.items[parent].code
            for peg in shared(int(needs[row, week]), self.released[parent, week]):
                yield ("item", code), Need(week, peg.root, peg.qty_base)

    def _cover(self, place: int) -> dict[tuple[str, int], list[Peg]]:
        """What an item's planned orders and open batches are for, noted for what they take."""
        needs = [need for _, need in self._needs(place)]
        inputs, found = self.planned.inputs, self.planned.found
        lead = int(inputs.lead_weeks[place])
        safety = int(inputs.safety_base[place])
        on_hand = int(inputs.on_hand_base[place] - found.spoiled_base[place, -1])
        supplies = [Supply(-1, (ON_HAND, 0), max(0, on_hand))]
        for number in self.coming_of[place]:
            each = self.planned.coming[number]
            if each.week < WEEKS:
                week = 0 if each.week <= lead else each.week
                supplies.append(Supply(week, (COMING, number), each.qty_base))
        planned = found.planned_base[place]
        supplies += [
            Supply(week, (PLANNED, week), int(planned[week]))
            for week in np.flatnonzero(planned).tolist()
        ]
        covers = covered([Need(-1, STOCK, safety), *needs], supplies)
        self.done.add(place)
        for (kind, number), pegs in covers.items():
            if kind == COMING:
                self.given[number] = pegs
            elif kind == PLANNED:
                self.released.setdefault((place, max(0, number - lead)), []).extend(pegs)
        return covers
