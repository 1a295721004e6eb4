"""Everything at risk, as of one moment: where every piece is, who has some, what runs made."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from typing import NamedTuple

from django.db.models import Sum

from batches.recall.rules import FIGURES, Balance, balance_of
from batches.recall.selectors.runs import RunRow, run_rows
from batches.trace.errors import too_large
from batches.trace.selectors.rows import Unit
from batches.trace.selectors.walking import WALK_MAX, Node, nodes_of
from batches.trace.selectors.whereabouts import Shipped, returned_amounts, shipped_lots
from inventory.stock.models import Disposition, Lot
from inventory.stock.selectors.among import Among
from inventory.stock.selectors.amounts import AmountRow
from inventory.stock.selectors.lineage import (
    Direction,
    ItemChange,
    LotChange,
    item_changes,
    lot_changes,
    reached_ids,
)
from shopfloor.codes.alphabet import Prefix, encode


class BalanceRow(NamedTuple):
    """Where all of an item at risk is."""

    item: str
    name: str
    received: AmountRow
    made: AmountRow
    parted: AmountRow
    used: AmountRow
    disposed: AmountRow
    sent_back: AmountRow
    shipped: AmountRow
    returned: AmountRow
    unexplained: AmountRow
    free: AmountRow
    stopped: AmountRow


class LotRow(NamedTuple):
    """Where all of a lot at risk is."""

    lot: str
    place: str
    disposition: str
    born_at: datetime
    balance: BalanceRow


class Sent(NamedTuple):
    """What a customer got of an item with one shipment, in which boxes; base units."""

    customer: str
    customer_name: str
    address: str
    shipment: str
    at: datetime
    item: str
    name: str
    unit: Unit
    boxes: list[str]
    lots: list[str]
    shipped_base: int
    returned_base: int


class Scope(NamedTuple):
    """Everything at risk.

    Attributes:
        nodes: Its lots by id, oldest first: what went in stands before what it went into.
        changes: What came and went of each lot, by its id.
        sent: By customer, shipment and item.
    """

    nodes: Mapping[int, Node]
    changes: Mapping[int, list[LotChange]]
    balances: Mapping[str, Balance]
    items: list[BalanceRow]
    sent: list[Sent]
    runs: list[RunRow]

    @property
    def boxes(self) -> set[str]:
        """Boxes that pieces at risk are in, or left in."""
        here = {node.box for node in self.nodes.values() if node.box and node.on_hand_base}
        return here | {box for each in self.sent for box in each.boxes}


def scope_of(lot_ids: Iterable[int]) -> Scope:
    """Everything that these lots flowed into. Seven statements; call it in a snapshot.

    Raises:
        TraceTooLargeError: more than `WALK_MAX` lots.
    """
    ids = reached_ids(lot_ids, Direction.DOWNSTREAM, most=WALK_MAX + 1)
    _refuse_too_many(ids)
    nodes = nodes_of(Lot.objects.filter(Among("pk", ids)).order_by("pk"))
    changes: dict[int, list[LotChange]] = defaultdict(list)
    for change in lot_changes(ids):
        changes[change.lot_id].append(change)
    of_item: dict[str, list[Node]] = defaultdict(list)
    for node in nodes.values():
        of_item[node.item].append(node)
    balances = {item: _balance(its, changes) for item, its in of_item.items()}
    return Scope(
        nodes=nodes,
        changes=changes,
        balances=balances,
        items=[balance_row(balances[item], its[0]) for item, its in of_item.items()],
        sent=_sent(nodes),
        runs=run_rows(ids),
    )


def balances_of(lot_ids: Collection[int]) -> dict[int, Balance]:
    """Where all of these lots is, by id of the item. Two statements.

    Raises:
        TraceTooLargeError: more than `WALK_MAX` lots.
    """
    _refuse_too_many(lot_ids)
    changes: dict[int, list[ItemChange]] = defaultdict(list)
    for change in item_changes(lot_ids):
        changes[change.item_id].append(change)
    on_hand: dict[int, dict[bool, int]] = defaultdict(lambda: {True: 0, False: 0})
    sums = Lot.objects.filter(Among("pk", lot_ids)).order_by().values_list("item_id", "disposition")
    for item_id, disposition, qty_base in sums.annotate(qty_base=Sum("on_hand_base")):
        on_hand[item_id][disposition == Disposition.RELEASED] += int(qty_base)
    return {
        item_id: balance_of(changes[item_id], free_base=its[True], stopped_base=its[False])
        for item_id, its in on_hand.items()
    }


def _refuse_too_many(lot_ids: Collection[int]) -> None:
    if len(lot_ids) > WALK_MAX:
        raise too_large("lots", WALK_MAX)


def lot_rows(scope: Scope, *, is_here_only: bool) -> list[LotRow]:
    """Where all of each lot is; on a paper only those that still hold something. No statement."""
    return [
        LotRow(
            lot=node.code,
            place=node.place,
            disposition=node.disposition,
            born_at=node.born_at,
            balance=balance_row(_balance([node], scope.changes), node),
        )
        for node in scope.nodes.values()
        if node.on_hand_base or not is_here_only
    ]


def _balance(nodes: Iterable[Node], changes: Mapping[int, list[LotChange]]) -> Balance:
    """Of lots of one item."""
    its: list[LotChange] = []
    on_hand = {True: 0, False: 0}
    for node in nodes:
        its += changes.get(node.id, ())
        on_hand[node.disposition == Disposition.RELEASED] += node.on_hand_base
    return balance_of(its, free_base=on_hand[True], stopped_base=on_hand[False])


def balance_row(balance: Balance, node: Node) -> BalanceRow:
    """A balance as people read it."""
    amounts = {name: node.unit.row(getattr(balance, name)) for name in FIGURES}
    return BalanceRow(item=node.item, name=node.name, **amounts)


def _sent(nodes: Mapping[int, Node]) -> list[Sent]:
    """What left. One statement."""
    shipped = shipped_lots(nodes)
    back = returned_amounts(shipped)
    groups: dict[tuple[str, int, str], list[Shipped]] = defaultdict(list)
    for lot in shipped:
        groups[lot.customer, lot.shipment_id, nodes[lot.lot_id].item].append(lot)
    return [
        Sent(
            customer=customer,
            customer_name=lots[0].customer_name,
            address=lots[0].address,
            shipment=encode(shipment_id, Prefix.SHIPMENT),
            at=lots[0].at,
            item=item,
            name=nodes[lots[0].lot_id].name,
            unit=nodes[lots[0].lot_id].unit,
            boxes=sorted({lot.box for lot in lots if lot.box is not None}),
            lots=[nodes[lot.lot_id].code for lot in lots],
            shipped_base=sum(lot.qty_base for lot in lots),
            returned_base=sum(back.get((shipment_id, lot.lot_id), 0) for lot in lots),
        )
        for (customer, shipment_id, item), lots in sorted(groups.items())
    ]
