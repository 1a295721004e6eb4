"""The part that both directions share: the lots and flows of a trace, and the rows made of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any, NamedTuple

from django.db.models import Q, QuerySet

from batches.trace.errors import too_large
from batches.trace.rules.flows import (
    Edge,
    Flow,
    depths,
    edges_of,
    flows_of,
    lots_of,
    sums_by_batch,
    within_depth,
)
from batches.trace.rules.shares import Downward, Ledger, Part, Upward, downward, nearest, upward
from batches.trace.selectors.rows import (
    BatchRow,
    EdgeRow,
    ItemAmountRow,
    NodeRow,
    PartRow,
    Unit,
    share_text,
)
from batches.trace.selectors.starts import Start
from inventory.catalog.models import Item
from inventory.stock.models import Lot, Posting, PostingKind
from inventory.stock.selectors.among import Among
from inventory.stock.selectors.lineage import (
    Direction,
    LotChange,
    flow_sides,
    lot_changes,
    reached_ids,
)
from shopfloor.codes.alphabet import Prefix, encode
from shopfloor.errors import NotFoundError
from shopfloor.units import Dimension

NODES_MAX = 20_000
EDGES_MAX = 60_000
WALK_MAX = 200_000
"""Lots gone through where `item` shows only some of them."""


class Node(NamedTuple):
    """A lot of the answer. The box is the one it stands in, None for none."""

    id: int
    code: str
    item: str
    kind: str
    name: str
    unit: Unit
    grade: str
    place: str
    disposition: str
    supplier: str | None
    supplier_lot_code: str
    born_at: datetime
    on_hand_base: int
    place_kind: str
    box: str | None
    box_state: str | None


class Run(NamedTuple):
    """The entry that a posting is."""

    id: int
    batch: str
    stage: str
    item: str
    item_name: str
    unit: Unit
    scrapped_base: int

    @property
    def entry(self) -> str:
        """Its code: made when asked for, since a trace has thousands."""
        return encode(self.id, Prefix.ENTRY)


class Event(NamedTuple):
    """A posting of the answer; `run` is None for a split or a move."""

    id: int
    kind: str
    at: datetime
    run: Run | None

    @property
    def code(self) -> str:
        """Its code: made when asked for."""
        return encode(self.id, Prefix.POSTING)


@dataclass(frozen=True, slots=True)
class Walk:
    """What a trace found.

    Attributes:
        nodes: Lots to be shown, by id.
        depth_of: How far each is from the start.
        flows: Those that have a lot to be shown, cut to the lots that were reached.
        events: Their postings, by id.
        goes_on: Whether lots lie beyond the depth asked for.
        changes: What came into the nodes and went out, by lot, then kind.
        whole_of: All that ever came in of each node, but not again what customers sent back.
        parts: How much of each lot is meant; None where the trace goes on.
    """

    nodes: Mapping[int, Node]
    depth_of: Mapping[int, int]
    flows: Sequence[Flow]
    events: Mapping[int, Event]
    goes_on: bool
    changes: Sequence[LotChange]
    whole_of: Mapping[int, int]
    parts: Downward | Upward | None

    @property
    def down(self) -> Downward | None:
        """The parts of a trace downstream."""
        return self.parts if isinstance(self.parts, Downward) else None


def walk(
    start: Start,
    direction: Direction,
    *,
    depth_max: int | None = None,
    item_code: str | None = None,
) -> Walk:
    """Go through the genealogy and find out how much of each lot is meant.

    Five statements, two more with an item.

    Raises:
        NotFoundError: no such item.
        TraceTooLargeError: more lots than `NODES_MAX`, or than `WALK_MAX` on the way.
    """
    upstream = direction is Direction.UPSTREAM
    item_id = _item_id(item_code)
    most = NODES_MAX if item_id is None else WALK_MAX
    ids = reached_ids(start.depth_of, direction, depth_max=depth_max, most=most + 1)
    if len(ids) > most:
        raise too_large("lots", most)
    flows = flows_of(flow_sides(ids, direction, also=start.also))
    depth_of = {
        lot_id: depth
        for lot_id, depth in depths(flows, start.depth_of, upstream=upstream).items()
        # What came to be since the walk is left out, and so is what lies too far.
        if lot_id in ids and (depth_max is None or depth <= depth_max)
    }
    ledger = flows
    flows, goes_on = within_depth(flows, depth_of, depth_max, upstream=upstream)
    beside = lots_of(ledger) - depth_of.keys() if item_id is None and not goes_on else set()
    details = _nodes(depth_of.keys() | beside, item_id, keep=start.depth_of)
    nodes = {lot: node for lot, node in details.items() if lot not in beside}
    shown = [flow for flow in flows if any(lot in nodes for lot in (*flow.taken, *flow.made))]
    events = _events(flow.posting_id for flow in (shown if goes_on else ledger))
    changes = lot_changes(nodes)
    whole_of = dict.fromkeys(nodes, 0)
    for change in changes:
        if change.kind != PostingKind.RETURNED:
            whole_of[change.lot_id] += change.came_in_base
    parts: Downward | Upward | None = None
    if not goes_on:
        begun = {lot: whole_of[lot] for lot, depth in start.depth_of.items() if depth == 0}
        told = _ledger(ledger, details, events)
        parts = upward(told, begun, start.also) if upstream else downward(told, begun)
    return Walk(
        nodes=nodes,
        depth_of=depth_of,
        flows=shown,
        events={flow.posting_id: events[flow.posting_id] for flow in shown},
        goes_on=goes_on,
        changes=changes,
        whole_of=whole_of,
        parts=parts,
    )


def _ledger(
    flows: Sequence[Flow], nodes: Mapping[int, Node], events: Mapping[int, Event]
) -> Ledger:
    """The flows with what their lots are. One statement for lots that are not among the nodes."""
    missing = lots_of(flows) - nodes.keys()
    others = Lot.objects.filter(Among("pk", missing)).order_by() if missing else Lot.objects.none()
    items = {node.id: (node.item, node.unit.dimension) for node in nodes.values()} | {
        lot: (item, dimension)
        for lot, item, dimension in others.values_list("pk", "item__code", "item__dimension")
    }
    return Ledger(
        flows,
        item_of={lot: item for lot, (item, _) in items.items()},
        pieces={item for item, dimension in items.values() if dimension == Dimension.COUNT},
        scrapped={
            event.id: (event.run.item, event.run.scrapped_base)
            for event in events.values()
            if event.run is not None and event.run.scrapped_base
        },
    )


def _item_id(code: str | None) -> int | None:
    if code is None:
        return None
    item_id = Item.objects.filter(code=code).values_list("pk", flat=True).first()
    if item_id is None:
        raise NotFoundError("No item has this code.", item=code)
    return item_id


NODE_COLUMNS = (
    "pk",
    "code",
    "item__code",
    "item__kind",
    "item__name",
    "item__dimension",
    "item__display_unit",
    "grade",
    "place__code",
    "disposition",
    "supplier__code",
    "supplier_lot_code",
    "born_at",
    "on_hand_base",
    "place__kind",
    "place__box__code",
    "place__box__state",
)


def _nodes(ids: Iterable[int], item_id: int | None, *, keep: Iterable[int]) -> dict[int, Node]:
    """Details of lots; with an item only those of it, and the ones to be kept. One statement.

    Raises:
        TraceTooLargeError: more than `NODES_MAX`.
    """
    lots = Lot.objects.filter(Among("pk", ids)).order_by()
    if item_id is None:
        return nodes_of(lots)  # the walk has ended at `NODES_MAX`
    lots = lots.filter(Q(item=item_id) | Q(Among("pk", keep)))
    nodes = nodes_of(lots[: NODES_MAX + 1])
    if len(nodes) > NODES_MAX:
        raise too_large("lots", NODES_MAX)
    return nodes


def nodes_of(lots: QuerySet[Lot]) -> dict[int, Node]:
    """Details of lots, in the order of the query. One statement."""
    rows: Iterable[tuple[Any, ...]] = lots.values_list(*NODE_COLUMNS)
    unit = cache(Unit)
    return {row[0]: Node._make((*row[:5], unit(row[5], row[6]), *row[7:])) for row in rows}


def _events(posting_ids: Iterable[int]) -> dict[int, Event]:
    """The postings, with batch and stage where they are entries. One statement."""
    batch = "entry__batch__"
    rows: Iterable[tuple[Any, ...]] = (
        Posting.objects.filter(Among("pk", posting_ids))
        .order_by()
        .values_list(
            "pk",
            "kind",
            "at",
            *(f"{batch}{name}" for name in ("code", "stage__code", "item__code", "item__name")),
            *(f"{batch}item__{name}" for name in ("dimension", "display_unit")),
            "entry__scrapped_base",
        )
    )
    return {
        number: Event(number, kind, at, _run(number, entry)) for number, kind, at, *entry in rows
    }


def _run(number: int, entry: Sequence[Any]) -> Run | None:
    if entry[0] is None:
        return None
    batch, stage, item, name, dimension, unit, scrapped_base = entry
    return Run(number, batch, stage, item, name, Unit(dimension, unit), scrapped_base)


def node_rows(found: Walk) -> list[NodeRow]:
    """The lots, nearest first. No statement."""
    return [_node_row(node, found) for node in by_depth(found)]


def by_depth(found: Walk) -> list[Node]:
    """The lots, nearest first."""
    return sorted(found.nodes.values(), key=lambda node: (found.depth_of[node.id], node.id))


def _node_row(node: Node, found: Walk) -> NodeRow:
    whole_base = found.whole_of[node.id]
    part = None if found.parts is None else found.parts.of_lot(node.id, whole_base)
    return NodeRow(
        code=node.code,
        item=node.item,
        kind=node.kind,
        name=node.name,
        grade=node.grade,
        place=node.place,
        disposition=node.disposition,
        supplier=node.supplier,
        supplier_lot_code=node.supplier_lot_code,
        born_at=node.born_at,
        on_hand=node.unit.row(node.on_hand_base),
        depth=found.depth_of[node.id],
        whole=node.unit.row(whole_base),
        share=None if part is None or not whole_base else share_text(part.by_share, whole_base),
        part=part_row(part, node.unit),
    )


def part_row(part: Part | None, unit: Unit) -> PartRow | None:
    """A part as people read it."""
    return part and PartRow(unit.row(nearest(part.by_share)), unit.row(part.up_to))


def edge_rows(found: Walk) -> list[EdgeRow]:
    """What flowed into what, oldest posting first. No statement.

    Raises:
        TraceTooLargeError: more than `EDGES_MAX`.
    """
    edges = edges_of(found.flows, found.nodes.keys())
    if len(edges) > EDGES_MAX:
        raise too_large("edges", EDGES_MAX)
    return [_edge_row(edge, found) for edge in edges]


def _edge_row(edge: Edge, found: Walk) -> EdgeRow:
    event, taken = found.events[edge.posting_id], found.nodes[edge.taken_id]
    made = None if edge.made_id is None else found.nodes[edge.made_id]
    run, parts = event.run, found.parts
    sides = edge.posting_id, edge.taken_id, edge.taken_base
    part = None if parts is None else parts.of_taken(*sides)
    return EdgeRow(
        posting=event.code,
        kind=event.kind,
        at=event.at,
        stage=None if run is None else run.stage,
        batch=None if run is None else run.batch,
        entry=None if run is None else run.entry,
        taken_lot=taken.code,
        taken_item=taken.item,
        taken=taken.unit.row(edge.taken_base),
        made_lot=None if made is None else made.code,
        made_item=None if made is None else made.item,
        made=None if made is None else made.unit.row(edge.made_base),
        part=part_row(part, taken.unit),
    )


def batch_rows(found: Walk) -> list[BatchRow]:
    """The batches, by their first entry of the answer. No statement."""
    runs = {event.id: event.run for event in found.events.values() if event.run is not None}
    batch_of = {posting_id: run.batch for posting_id, run in runs.items()}
    item_of = {node.id: node.item for node in found.nodes.values()}
    unit_of = {node.item: node.unit for node in found.nodes.values()}
    rows = []
    for sums in sums_by_batch(found.flows, batch_of, item_of):
        run = runs[sums.posting_ids[0]]
        times = [found.events[posting_id].at for posting_id in sums.posting_ids]
        rows.append(
            BatchRow(
                batch=run.batch,
                stage=run.stage,
                item=run.item,
                item_name=run.item_name,
                entries=len(sums.posting_ids),
                first_at=min(times),
                last_at=max(times),
                taken=_amounts(sums.taken, unit_of),
                made=_amounts(sums.made, unit_of),
                scrapped=run.unit.row(sum(runs[each].scrapped_base for each in sums.posting_ids)),
            )
        )
    return sorted(rows, key=lambda row: row.first_at)


def _amounts(sums: Mapping[str, int], unit_of: Mapping[str, Unit]) -> list[ItemAmountRow]:
    return [ItemAmountRow(item, unit_of[item].row(qty)) for item, qty in sorted(sums.items())]
