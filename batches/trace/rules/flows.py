"""Arithmetic of a trace: how far each lot is, which pairs of lots a flow joins, sums by batch.

A flow is one posting: each lot it took went into each lot it made. All amounts are base units.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from itertools import product
from typing import NamedTuple


@dataclass(slots=True)
class Flow:
    """What one posting took and made, by lot id; both amounts above zero."""

    posting_id: int
    taken: dict[int, int] = field(default_factory=dict)
    made: dict[int, int] = field(default_factory=dict)


class Edge(NamedTuple):
    """A lot that went into another; `made_id` is None where nothing came of it: all was scrapped.

    Amounts are the posting's: what it took of the one lot went into all the lots it made, so the
    amounts of several edges of a posting do not add up.
    """

    posting_id: int
    taken_id: int
    taken_base: int
    made_id: int | None
    made_base: int


@dataclass(slots=True)
class BatchSums:
    """What the postings of one batch took and made, by item; first posting first."""

    batch: str
    posting_ids: list[int] = field(default_factory=list)
    taken: dict[str, int] = field(default_factory=dict)
    made: dict[str, int] = field(default_factory=dict)


def flows_of(sides: Iterable[tuple[int, int, int]]) -> list[Flow]:
    """The sides gathered by posting, in the order they come.

    Args:
        sides: Posting, lot and amount: negative was taken, positive was made.
    """
    found: dict[int, Flow] = {}
    for posting_id, lot_id, qty_base in sides:
        flow = found.get(posting_id)
        if flow is None:
            flow = found[posting_id] = Flow(posting_id)
        if qty_base < 0:
            flow.taken[lot_id] = -qty_base
        else:
            flow.made[lot_id] = qty_base
    return list(found.values())


def lots_of(flows: Iterable[Flow]) -> set[int]:
    """All that these flows took or made."""
    return {lot for flow in flows for lot in (*flow.taken, *flow.made)}


def depths(flows: Iterable[Flow], start: Mapping[int, int], *, upstream: bool) -> dict[int, int]:
    """The least number of flows between the start and each lot that can be reached from it.

    Args:
        flows: In any order.
        start: Depth of the lots to begin with, >= 0.
        upstream: From what was made to what was taken, else the other way.
    """
    onward: dict[int, list[Collection[int]]] = defaultdict(list)
    for flow in flows:
        here, beyond = (flow.made, flow.taken) if upstream else (flow.taken, flow.made)
        for lot_id in here:
            onward[lot_id].append(beyond)
    found: dict[int, int] = {}
    waiting: dict[int, list[int]] = defaultdict(list)
    for lot_id, depth in start.items():
        waiting[depth].append(lot_id)
    depth = 0
    while any(waiting.values()):
        for lot_id in waiting.pop(depth, ()):
            if lot_id not in found:
                found[lot_id] = depth
                waiting[depth + 1] += (
                    other for beyond in onward.get(lot_id, ()) for other in beyond
                )
        depth += 1
    return found


def within_depth(
    flows: Iterable[Flow], depth_of: Mapping[int, int], depth_max: int | None, *, upstream: bool
) -> tuple[list[Flow], bool]:
    """The flows between lots that are not too far, cut to those lots; and whether any goes on.

    A flow that made nothing is kept as long as what it took is nearer than the limit.

    Args:
        flows: What took lots (downstream) or made them (upstream).
        depth_of: Depth of every lot not too far, as of `depths`.
        depth_max: The limit, or None.
        upstream: The direction.
    """
    kept, goes_on = [], False
    for flow in flows:
        taken = {lot: qty for lot, qty in flow.taken.items() if lot in depth_of}
        made = {lot: qty for lot, qty in flow.made.items() if lot in depth_of}
        beyond, inside = (flow.taken, taken) if upstream else (flow.made, made)
        here = made if upstream else taken
        is_near = depth_max is None or any(depth_of[lot] < depth_max for lot in here)
        if inside or (not beyond and is_near):
            kept.append(Flow(flow.posting_id, taken, made))
        if len(inside) < len(beyond) or (not beyond and not is_near):
            goes_on = True
    return kept, goes_on


def edges_of(flows: Iterable[Flow], shown: Collection[int]) -> list[Edge]:
    """The pairs of shown lots that flows join, in the order of the flows.

    Args:
        flows: What flowed.
        shown: Lots to be shown; a pair needs both, a lot of which nothing came needs only itself.
    """
    return [
        edge
        for flow in flows
        for edge in _pairs(flow)
        if edge.taken_id in shown and (edge.made_id is None or edge.made_id in shown)
    ]


def _pairs(flow: Flow) -> list[Edge]:
    made: list[tuple[int | None, int]] = [*flow.made.items()] or [(None, 0)]
    return [
        Edge(flow.posting_id, taken_id, taken_base, made_id, made_base)
        for (taken_id, taken_base), (made_id, made_base) in product(flow.taken.items(), made)
    ]


def sums_by_batch(
    flows: Iterable[Flow], batch_of: Mapping[int, str], item_of: Mapping[int, str]
) -> list[BatchSums]:
    """What each batch took and made of some lots, all its postings together; first posting first.

    Each amount counts once, however many lots a posting joins it to.

    Args:
        flows: By posting id; one whose lots are all left out is left out too.
        batch_of: Batch by posting id; a split or move has none and is left out.
        item_of: Item by lot id, for the lots that count.
    """
    found: dict[str, BatchSums] = {}
    for flow in flows:
        batch = batch_of.get(flow.posting_id)
        counts = any(lot in item_of for lot in (*flow.taken, *flow.made))
        if batch is None or not counts:
            continue
        sums = found.setdefault(batch, BatchSums(batch))
        sums.posting_ids.append(flow.posting_id)
        add_up(sums.taken, flow.taken, item_of)
        add_up(sums.made, flow.made, item_of)
    return list(found.values())


def add_up(sums: dict[str, int], amounts: Mapping[int, int], item_of: Mapping[int, str]) -> None:
    """Add amounts of lots to the sums of their items; a lot without item does not count."""
    for lot_id, qty_base in amounts.items():
        if lot_id in item_of:
            item = item_of[lot_id]
            sums[item] = sums.get(item, 0) + qty_base
