"""Which entries the pieces that left are of, by share, and what customers found of them.

Lots of a box, and what flowed together before, are shared out by amount: so many pieces of it are
of each entry, and so much of a complaint. Counts are therefore no whole numbers. A complaint is one
failure, however many pieces it is of: they were one parcel, and alike. Common practice, no source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from typing import Final, NamedTuple

from batches.trace.rules.flows import Flow

DAYS_TO_TELL: Final = 90
"""After so many days all is told that will ever be; before, evenly less. A rule, no source."""

Shares = Mapping[int, float]
"""How much of a lot is of each entry, from 0 to 1; the rest is of entries not looked at."""


class Left(NamedTuple):
    """Pieces of a lot that left so many days ago."""

    lot_id: int
    pieces: int
    days: int


class Told(NamedTuple):
    """A complaint or, from 0 to 1, part of one; and the pieces that it may be of, by lot."""

    part: float
    among: Mapping[int, int]


class Count(NamedTuple):
    """Pieces of an entry, by share, that customers could tell of, and complaints of them."""

    tested: float
    failed: float


def shares_onward(
    flows: Iterable[Flow],
    begun: Mapping[int, Shares],
    item_of: Mapping[int, int],
    elsewhere: Collection[int],
) -> dict[int, Shares]:
    """Shares of every lot that those lots flowed into, and of these themselves.

    By share of each item that carries some; several items of a posting, as left and right halves,
    count alike.

    Args:
        flows: Downstream of the lots, whole, oldest first; a lot is made once, before it is taken.
        begun: What the entries made.
        item_of: Of all lots that were taken.
        elsewhere: Postings that make pieces anew, as the entries do, and are not looked at.
    """
    found = dict(begun)
    carrying = {item_of[lot_id] for lot_id in begun if lot_id in item_of}
    for flow in flows:
        if flow.posting_id in elsewhere or flow.made.keys() <= begun.keys():
            continue
        carriers = {lot: qty for lot, qty in flow.taken.items() if item_of[lot] in carrying}
        if not any(lot in found for lot in carriers):
            continue
        shares = _joined(carriers, item_of, found)
        for lot in flow.made:
            found[lot] = shares
            if lot in item_of:
                carrying.add(item_of[lot])
    return found


def _joined(
    taken: Mapping[int, int], item_of: Mapping[int, int], found: Mapping[int, Shares]
) -> Shares:
    if len(taken) == 1:
        [lot] = taken
        return found[lot]
    sums: dict[int, int] = defaultdict(int)
    for lot, qty in taken.items():
        sums[item_of[lot]] += qty
    joined: dict[int, float] = defaultdict(float)
    for lot, qty in taken.items():
        weight = qty / sums[item_of[lot]] / len(sums)
        for entry, share in found.get(lot, {}).items():
            joined[entry] += weight * share
    return joined


def counts_of(
    left: Iterable[Left], told: Iterable[Told], shares_of: Mapping[int, Shares]
) -> dict[int, Count]:
    """What customers found, by entry.

    A piece that left lately counts for less: it had less time to be complained of.
    """
    tested: dict[int, float] = defaultdict(float)
    failed: dict[int, float] = defaultdict(float)
    for lot, pieces, days in left:
        weight = pieces * min(1.0, (days + 1) / DAYS_TO_TELL)
        for entry, share in shares_of.get(lot, {}).items():
            tested[entry] += weight * share
    for part, among in told:
        rate = part / sum(among.values())
        for lot, there in among.items():
            for entry, share in shares_of.get(lot, {}).items():
                failed[entry] += rate * there * share
    return {
        entry: Count(max(qty, failed.get(entry, 0.0)), failed.get(entry, 0.0))
        for entry, qty in tested.items()
    }
