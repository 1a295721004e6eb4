"""Everything at risk, as of one moment: where every piece is, who has some, what runs made."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import NamedTuple

from batches.packing.models import Customer
from batches.recall.rules import FIGURES, Balance, balance_of
from batches.recall.selectors.runs import RunRow, run_rows
from batches.trace.selectors.rows import StartRow, Unit
from batches.trace.selectors.starts import Start
from batches.trace.selectors.walking import WALK_MAX, Node, Walk, walk
from batches.trace.selectors.whereabouts import Shipped, returned_amounts, shipped_lots
from inventory.catalog.models import Item
from inventory.stock.models import Disposition
from inventory.stock.selectors.among import AmongCodes
from inventory.stock.selectors.amounts import AmountRow
from inventory.stock.selectors.lineage import Direction, LotChange
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
        item_ids: By code, of the balances.
        sent: By customer, shipment and item.
    """

    found: Walk
    item_ids: Mapping[str, int]
    balances: Mapping[str, Balance]
    items: list[BalanceRow]
    lots: list[LotRow]
    sent: list[Sent]
    runs: list[RunRow]

    @property
    def boxes(self) -> set[str]:
        """Boxes that pieces at risk are in, or left in."""
        here = {node.box for node in self.found.nodes.values() if node.box and node.on_hand_base}
        return here | {box for each in self.sent for box in each.boxes}


def scope_of(lot_ids: Iterable[int]) -> Scope:
    """Everything that these lots flowed into. Fourteen statements; call it in a snapshot.

    Raises:
        TraceTooLargeError: more than `WALK_MAX` lots.
    """
    start = Start(StartRow("recall", "", [], is_undone=False, note=""), dict.fromkeys(lot_ids, 0))
    found = walk(start, Direction.DOWNSTREAM, nodes_max=WALK_MAX, has_parts=False)
    nodes = sorted(found.nodes.values(), key=lambda node: (found.depth_of[node.id], node.id))
    by_lot = _by_lot(found)
    balances: dict[str, Balance] = {}
    for node in nodes:
        balances[node.item] = balances.get(node.item, Balance()) + by_lot[node.id]
    first = {node.item: node for node in reversed(nodes)}
    item_ids = dict(Item.objects.filter(AmongCodes("code", balances)).values_list("code", "pk"))
    return Scope(
        found=found,
        item_ids=item_ids,
        balances=balances,
        items=[balance_row(balance, first[item]) for item, balance in balances.items()],
        lots=[
            LotRow(
                node.code, node.place, node.disposition, node.born_at,
                balance_row(by_lot[node.id], node),
            )
            for node in nodes
        ],
        sent=_sent(found.nodes),
        runs=run_rows(found.events),
    )  # fmt: skip


def balance_row(balance: Balance, node: Node) -> BalanceRow:
    """A balance as people read it."""
    amounts = {name: node.unit.row(getattr(balance, name)) for name in FIGURES}
    return BalanceRow(item=node.item, name=node.name, **amounts)


def _by_lot(found: Walk) -> dict[int, Balance]:
    """The balance of each lot. No statement."""
    changes: dict[int, list[LotChange]] = defaultdict(list)
    for change in found.changes:
        changes[change.lot_id].append(change)
    return {
        node.id: balance_of(
            changes[node.id],
            on_hand_base=node.on_hand_base,
            is_free=node.disposition == Disposition.RELEASED,
        )
        for node in found.nodes.values()
    }


def _sent(nodes: Mapping[int, Node]) -> list[Sent]:
    """What left. Four statements."""
    shipped = shipped_lots(nodes)
    back = returned_amounts(lot.shipment_id for lot in shipped)
    codes = {lot.customer for lot in shipped}
    addresses = dict(
        Customer.objects.filter(AmongCodes("code", codes)).values_list("code", "address")
    )
    groups: dict[tuple[str, int, str], list[Shipped]] = defaultdict(list)
    for lot in shipped:
        groups[lot.customer, lot.shipment_id, nodes[lot.lot_id].item].append(lot)
    return [
        Sent(
            customer=customer,
            customer_name=lots[0].customer_name,
            address=addresses[customer],
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
