"""Arithmetic of a trace where lots were used together: how much by share, and at most how much.

By share, what was taken of several lots of one item is spread evenly over what came of it, scrap
included. Where several items of a posting carry what is traced, the largest share counts. Both are
the shop's rules (common practice, no source). All amounts are base units, or parts of them.

At most is what could be, however the pieces were picked: all of a lot, unless pieces tell more.
Where a whole number of pieces of an item went into each piece, so many pieces taken are in no more
pieces made.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import chain
from typing import Final, NamedTuple

from batches.trace.rules.flows import Flow

Share = Fraction | int
"""From 0 to 1; exact up to `DENOMINATOR_MAX`."""

DENOMINATOR_MAX: Final = 10**24
"""Finer shares are rounded to this: what goes round and round would grow more digits forever."""


@dataclass(frozen=True, slots=True)
class Ledger:
    """What flowed.

    Attributes:
        flows: Oldest first, whole: with the lots that were not reached, too. A lot is made once,
            before it is taken.
        item_of: Of every lot in the flows and the start.
        pieces: The items that are counted in pieces.
        scrapped: Item and amount scrapped, > 0, by posting.
    """

    flows: Sequence[Flow]
    item_of: Mapping[int, str]
    pieces: Collection[str]
    scrapped: Mapping[int, tuple[str, int]] = field(default_factory=dict)

    def made_by_item(self, flow: Flow) -> dict[str, int]:
        """What a flow made of each item, and what was scrapped of it."""
        sums = self._sums(flow.made)
        if flow.posting_id in self.scrapped:
            item, qty_base = self.scrapped[flow.posting_id]
            sums[item] = sums.get(item, 0) + qty_base
        return sums

    def taken_by_item(self, flow: Flow) -> dict[str, int]:
        """What a flow took of each item."""
        return self._sums(flow.taken)

    def by_item(self, lots: Iterable[int]) -> dict[str, list[int]]:
        """The lots by item."""
        found: dict[str, list[int]] = defaultdict(list)
        for lot in lots:
            found[self.item_of[lot]].append(lot)
        return found

    def pieces_each(self, item: str, taken: int, made_item: str, made: int) -> int:
        """Pieces of an item that went into each piece made; 0 where that is no whole number."""
        is_pieces = item in self.pieces and made_item in self.pieces
        return 0 if not is_pieces or made == 0 or taken % made else taken // made

    def _sums(self, amounts: Mapping[int, int]) -> dict[str, int]:
        sums: dict[str, int] = {}
        for lot, qty_base in amounts.items():
            item = self.item_of[lot]
            sums[item] = sums.get(item, 0) + qty_base
        return sums


class Part(NamedTuple):
    """How much of an amount is meant: by share, and at most."""

    by_share: Share
    up_to: int


@dataclass(slots=True)
class Downward:
    """How much of what a start flowed into came of it.

    Attributes:
        share_of: By lot, of any amount of it; lots that were not reached are not in it.
        most_of: Pieces of a lot at most, where fewer than all of it.
        flow_share: Of what a posting made and scrapped.
        flow_most: Pieces of an item that a posting made and scrapped at most.
        item_most: Of all lots of an item and what was scrapped of it at most: fewer than its lots
            together, where the same few pieces could be in any of them.
        limited: The items of which some lot has a limit; of the others all is meant.
    """

    share_of: dict[int, Share] = field(default_factory=dict)
    most_of: dict[int, int] = field(default_factory=dict)
    flow_share: dict[int, Share] = field(default_factory=dict)
    flow_most: dict[tuple[int, str], int] = field(default_factory=dict)
    item_most: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    limited: set[str] = field(default_factory=set)

    def of_lot(self, lot: int, qty_base: int) -> Part:
        """What of an amount of a lot came of the start."""
        most = self.most_of.get(lot, qty_base)
        return Part(qty_base * self.share_of[lot], min(qty_base, most))

    def of_taken(self, posting: int, lot: int, qty_base: int) -> Part:
        """What of the amount that a posting took came of the start."""
        return self.of_lot(lot, qty_base)

    def of_scrapped(self, posting: int, item: str, qty_base: int) -> Part:
        """What of the pieces that a posting scrapped came of the start."""
        most = self.flow_most[posting, item]
        return Part(qty_base * self.flow_share[posting], min(qty_base, most))


@dataclass(slots=True)
class Upward:
    """How much of what flowed into a start is in it.

    Attributes:
        start: The lots that are all of them in it.
        amount_of: By share, of each other lot that was reached.
        most_of: The same at most.
        flow_share: Of what a posting took.
        edge_most: At most, of what a posting took of a lot.
    """

    start: Collection[int]
    amount_of: dict[int, Share] = field(default_factory=dict)
    most_of: dict[int, int] = field(default_factory=dict)
    flow_share: dict[int, Share] = field(default_factory=dict)
    edge_most: dict[tuple[int, int], int] = field(default_factory=dict)

    def of_lot(self, lot: int, qty_base: int) -> Part:
        """What of a lot, all of which is `qty_base`, is in the start."""
        if lot in self.start:
            return Part(qty_base, qty_base)
        amount, most = self.amount_of.get(lot, 0), self.most_of.get(lot, 0)
        return Part(min(qty_base, amount), min(qty_base, most))

    def of_taken(self, posting: int, lot: int, qty_base: int) -> Part:
        """What of the amount that a posting took of a lot is in the start."""
        return Part(qty_base * self.flow_share[posting], self.edge_most[posting, lot])


def downward(ledger: Ledger, start: Mapping[int, int]) -> Downward:
    """What came of the start, lot by lot.

    Args:
        ledger: The flows that took lots which were reached.
        start: All that came in of each lot to begin with.
    """
    found = Downward(share_of=dict.fromkeys(start, 1))
    for lot, qty_base in start.items():
        found.item_most[ledger.item_of[lot]] += qty_base
    for flow in ledger.flows:
        _flow_down(found, ledger, flow, start)
    return found


def _flow_down(found: Downward, ledger: Ledger, flow: Flow, start: Collection[int]) -> None:
    reached = ledger.by_item(lot for lot in flow.taken if lot in found.share_of)
    taken = ledger.taken_by_item(flow)
    found.flow_share[flow.posting_id] = share = max(
        ratio(sum(flow.taken[lot] * found.share_of[lot] for lot in lots), taken[item])
        for item, lots in reached.items()
    )
    pieces = [found.of_lot(lot, flow.taken[lot]) for lot in chain(*reached.values())]
    for item, made in ledger.made_by_item(flow).items():
        most = made
        if all(ledger.pieces_each(each, taken[each], item, made) for each in reached):
            most = min(made, sum(part.up_to for part in pieces))
        found.flow_most[flow.posting_id, item] = most
        if reached.keys() - {item}:
            found.item_most[item] += most
    for lot, qty_base in flow.made.items():
        if lot not in start:
            item = ledger.item_of[lot]
            found.share_of[lot] = share
            if found.flow_most[flow.posting_id, item] < qty_base:
                found.most_of[lot] = found.flow_most[flow.posting_id, item]
                found.limited.add(item)


def upward(ledger: Ledger, start: Collection[int], also: Collection[int] = ()) -> Upward:
    """What of the lots upstream is in the start.

    Args:
        ledger: The flows that made lots which were reached.
        start: Lots to begin with.
        also: Postings that made nothing but are what is asked about: all they took counts.
    """
    found = Upward(start)
    for flow in reversed(ledger.flows):
        inside = {lot: found.of_lot(lot, qty_base) for lot, qty_base in flow.made.items()}
        reached = ledger.by_item(lot for lot, part in inside.items() if part.up_to)
        made, taken = ledger.made_by_item(flow), ledger.taken_by_item(flow)
        share = max(
            (
                ratio(sum(inside[lot].by_share for lot in lots), made[item])
                for item, lots in reached.items()
            ),
            default=int(flow.posting_id in also),
        )
        found.flow_share[flow.posting_id] = share
        for lot, qty_base in flow.taken.items():
            item = ledger.item_of[lot]
            each = {to: ledger.pieces_each(item, taken[item], to, made[to]) for to in reached}
            most = qty_base if share else 0
            if reached and all(each.values()):
                pieces = sum(each[to] * sum(inside[of].up_to for of in reached[to]) for to in each)
                most = min(most, pieces)
            found.edge_most[flow.posting_id, lot] = most
            found.amount_of[lot] = found.amount_of.get(lot, 0) + qty_base * share
            found.most_of[lot] = found.most_of.get(lot, 0) + most
    return found


def together(parts: Iterable[Part | None]) -> Part | None:
    """Parts added up; None where one of them is not known."""
    total = Part(0, 0)
    for part in parts:
        if part is None:
            return None
        total = Part(total.by_share + part.by_share, total.up_to + part.up_to)
    return total


def ratio(part: Share, whole: int) -> Share:
    """A part of a whole, > 0; 1 as a plain number, for that is what most are."""
    if part == whole:
        return 1
    share = Fraction(part) / whole
    if share.denominator <= DENOMINATOR_MAX:
        return share
    return Fraction(round(share * DENOMINATOR_MAX), DENOMINATOR_MAX)


def nearest(amount: Share) -> int:
    """The nearest base unit, halves up: for showing, after all is added up."""
    return (2 * amount.numerator + amount.denominator) // (2 * amount.denominator)
