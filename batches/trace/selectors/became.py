"""What became of the lots downstream: every base unit of each of them, and the sums by item."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from batches.trace.rules.shares import Downward, Part, together
from batches.trace.selectors.rows import TotalRow, WhereRow
from batches.trace.selectors.walking import Node, Walk, by_depth, part_row
from batches.trace.selectors.whereabouts import Scrapped, Shipped
from inventory.catalog.models import PlaceKind
from inventory.stock.models import PostingKind
from inventory.stock.selectors.lineage import LotChange
from shopfloor.codes.alphabet import Prefix, encode

STANDS: Final = {
    PlaceKind.SHELF: "on_shelf",
    PlaceKind.BENCH: "in_work",
    PlaceKind.BOX: "boxed",
    PlaceKind.OUTSIDE: "outside",
}
"""What became of what still stands somewhere, by kind of place."""

BACK: Final = "returned"
"""It came back from a customer and still stands here."""

SHIPPED: Final = "shipped"
SCRAPPED: Final = "scrapped"

LEFT: Final = {
    PostingKind.MADE: "used",
    PostingKind.MIXED: "used",
    PostingKind.SPLIT: "parted",
    PostingKind.MOVED: "parted",
    PostingKind.DISPOSED: "disposed",
    PostingKind.RETURNED: "sent_back",
    PostingKind.COUNTED: "counted_off",
    PostingKind.ADJUSTED: "counted_off",
}
"""What became of what went out of a lot, by kind of posting; what was shipped is told by line."""

BECAME: Final = (*STANDS.values(), BACK, SHIPPED, SCRAPPED, *dict.fromkeys(LEFT.values()))


class Where(NamedTuple):
    """An amount of a lot and what became of it; base units."""

    lot: Node
    became: str
    qty_base: int
    part: Part | None
    place: str | None = None
    box: str | None = None
    line: Shipped | None = None


def whereabouts(
    found: Walk, shipped: Iterable[Shipped], returned: Mapping[tuple[int, int], int]
) -> list[Where]:
    """What became of each lot, nearest lot first. No statement.

    Args:
        found: Lots, and what went in and out of them.
        shipped: Of these lots.
        returned: Base units that came back, by shipment and lot id.
    """
    left, came_back = _went(found.changes)
    lines: dict[int, list[Shipped]] = defaultdict(list)
    for line in shipped:
        lines[line.lot_id].append(line)
    return [
        each
        for lot in by_depth(found)
        for each in (
            *_standing(found, lot, is_back=lot.id in came_back),
            *_gone(found, lot, lines[lot.id], returned),
            *(Where(lot, *became, _part(found, lot, became[1])) for became in left[lot.id].items()),
        )
    ]


def _went(changes: Iterable[LotChange]) -> tuple[dict[int, dict[str, int]], set[int]]:
    """What went out of each lot otherwise than by a shipment, and the lots that came back."""
    left: dict[int, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    came_back = set()
    for change in changes:
        if change.kind == PostingKind.RETURNED and change.came_in_base:
            came_back.add(change.lot_id)
        if change.went_out_base and change.kind != PostingKind.SHIPPED:
            left[change.lot_id][LEFT[PostingKind(change.kind)]] += change.went_out_base
    return left, came_back


def _standing(found: Walk, lot: Node, *, is_back: bool) -> Iterator[Where]:
    if lot.on_hand_base:
        became = BACK if is_back else STANDS[PlaceKind(lot.place_kind)]
        part = _part(found, lot, lot.on_hand_base)
        yield Where(lot, became, lot.on_hand_base, part, place=lot.place, box=lot.box)


def _gone(
    found: Walk, lot: Node, lines: Iterable[Shipped], returned: Mapping[tuple[int, int], int]
) -> Iterator[Where]:
    for line in lines:
        gone_base = line.qty_base - returned.get((line.shipment_id, lot.id), 0)
        if gone_base:
            part = _part(found, lot, gone_base)
            yield Where(lot, SHIPPED, gone_base, part, box=line.box, line=line)


def _part(found: Walk, lot: Node, qty_base: int) -> Part | None:
    return None if found.down is None else found.down.of_lot(lot.id, qty_base)


def where_rows(amounts: Iterable[Where]) -> list[WhereRow]:
    """The same as the answer shows it. No statement."""
    return [
        WhereRow(
            lot=each.lot.code,
            item=each.lot.item,
            became=each.became,
            amount=each.lot.unit.row(each.qty_base),
            part=part_row(each.part, each.lot.unit),
            place=each.place,
            box=each.box,
            shipment=each.line and encode(each.line.shipment_id, Prefix.SHIPMENT),
            customer=each.line and each.line.customer,
            at=each.line and each.line.at,
        )
        for each in amounts
    ]


def total_rows(
    found: Walk, amounts: Iterable[Where], scrapped: Iterable[Scrapped]
) -> list[TotalRow]:
    """What became of each item, lots together, in the order of `BECAME`. No statement."""
    sums: dict[tuple[str, str], list[tuple[int | None, int, Part | None]]] = defaultdict(list)
    units = {}
    for each in amounts:
        sums[each.lot.item, each.became].append((each.lot.id, each.qty_base, each.part))
        units[each.lot.item] = each.lot.unit
    for piece in scrapped:
        sums[piece.run.item, SCRAPPED].append((None, piece.qty_base, piece.part))
        units[piece.run.item] = piece.run.unit
    return [
        TotalRow(
            item=item,
            became=became,
            lots=len({lot for lot, _, _ in each} - {None}),
            amount=units[item].row(sum(qty_base for _, qty_base, _ in each)),
            part=part_row(_capped(found.down, item, [part for _, _, part in each]), units[item]),
        )
        for (item, became), each in sorted(
            sums.items(), key=lambda pair: (pair[0][0], BECAME.index(pair[0][1]))
        )
    ]


def _capped(down: Downward | None, item: str, parts: Sequence[Part | None]) -> Part | None:
    """Parts together; of pieces no more than were there of the item at all."""
    both = together(parts)
    if both is None or down is None or item not in down.limited:
        return both
    return Part(both.by_share, min(both.up_to, down.item_most[item]))
