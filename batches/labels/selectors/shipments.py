"""Packing lists: what left to a customer, box by box."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence

from batches.labels.rules.papers_packing import PackedBox, PackedLine, PackedTotal, PackingList
from batches.labels.selectors.asked import in_order, refuse_all
from batches.labels.selectors.boxes import lots_text, ship_to
from batches.packing.errors import ShipmentReversedError
from batches.packing.models import Box, Purpose, Shipment, ShipmentLine
from batches.packing.selectors import shipments, ssccs_of
from inventory.stock.selectors.among import Among
from shopfloor.codes.alphabet import Prefix, decode
from shopfloor.days import shop_day

LOOK = "Look at the list of shipments."


def packing_lists(codes: Sequence[str]) -> list[PackingList]:
    """Shipments, in the order asked. Three statements.

    Raises:
        CodeUnreadableError, CodeTypoError, WrongKindOfCodeError: not the code of a shipment.
        NotFoundError: naming all codes that no shipment has.
        ShipmentReversedError: naming all shipments that were taken back.
    """
    numbers = {decode(code, Prefix.SHIPMENT)[1] for code in codes}
    rows = {shipment.code: shipment for shipment in shipments().filter(Among("pk", numbers))}
    found = in_order(rows, codes, noun="shipment", look=LOOK)
    refuse_all(
        ShipmentReversedError,
        [each.code for each in found if getattr(each.posting, "reversed_by", None) is not None],
        why="Reversed, so that nothing of it left",
        look="Print the list of the shipment that took its place.",
    )
    lines = _lines(rows.values())
    ssccs = ssccs_of(
        line.box.code for of_one in lines.values() for line in of_one if line.box is not None
    )
    return [_list(shipment, lines[shipment.pk], ssccs) for shipment in found]


def _lines(found: Collection[Shipment]) -> dict[int, list[ShipmentLine]]:
    related = ("lot__item__model", "lot__item__colorway", "box__parent")
    rows = ShipmentLine.objects.filter(Among("shipment", {each.pk for each in found}))
    lines: dict[int, list[ShipmentLine]] = defaultdict(list)
    for line in rows.select_related(*related).order_by("pk"):
        lines[line.shipment_id].append(line)
    return lines


def _list(
    shipment: Shipment, lines: Sequence[ShipmentLine], ssccs: Mapping[str, str]
) -> PackingList:
    return PackingList(
        code=shipment.code,
        ship_to=ship_to(shipment),
        order="" if shipment.order is None else shipment.order.code,
        carrier=shipment.carrier,
        shipped_on=shop_day(shipment.posting.at).isoformat(),
        boxes=_boxes(lines, ssccs),
        totals=_totals(lines),
    )


def _boxes(lines: Sequence[ShipmentLine], ssccs: Mapping[str, str]) -> tuple[PackedBox, ...]:
    """Boxes in the order of their numbers, what is in none last."""
    by_box: dict[Box | None, list[ShipmentLine]] = defaultdict(list)
    for line in lines:
        by_box[line.box].append(line)
    order = sorted(by_box, key=lambda box: (box is None, 0 if box is None else box.pk))
    return tuple(_box(box, by_box[box], ssccs) for box in order)


def _box(box: Box | None, lines: Sequence[ShipmentLine], ssccs: Mapping[str, str]) -> PackedBox:
    by_what: dict[tuple[int, str], list[ShipmentLine]] = defaultdict(list)
    for line in lines:
        by_what[(line.lot.item_id, line.purpose)].append(line)
    return PackedBox(
        code="" if box is None else box.code,
        outer="" if box is None or box.parent is None else box.parent.code,
        sscc="" if box is None else ssccs.get(box.code, ""),
        pieces=sum(line.qty_base for line in lines),
        lines=tuple(_line(of_item) for of_item in by_what.values()),
    )


def _line(lines: Sequence[ShipmentLine]) -> PackedLine:
    item = lines[0].lot.item
    purpose = lines[0].purpose
    return PackedLine(
        title=item.name if item.model is None else item.model.name,
        subtitle="" if item.colorway is None else item.colorway.name,
        item=item.code,
        pieces=sum(line.qty_base for line in lines),
        lots=lots_text((line.lot.code, line.qty_base) for line in lines),
        purpose="" if purpose == Purpose.SALE else purpose,
    )


def _totals(lines: Sequence[ShipmentLine]) -> tuple[PackedTotal, ...]:
    by_item: dict[int, list[ShipmentLine]] = defaultdict(list)
    for line in lines:
        by_item[line.lot.item_id].append(line)
    totals = [PackedTotal(*_line(of_item)[:4]) for of_item in by_item.values()]
    return tuple(sorted(totals))
