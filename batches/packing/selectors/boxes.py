"""Boxes and what is in them: the lots at their place, or what left in them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from django.db import connection
from django.db.models import QuerySet
from django.db.models.expressions import RawSQL

from batches.packing.models import Box, BoxSscc, BoxState, ShipmentLine
from inventory.stock.models import Lot
from inventory.stock.selectors.among import Among, AmongCodes, each_id, parameter, within
from shopfloor.codes.alphabet import encode
from shopfloor.errors import NotFoundError


class ContentRow(NamedTuple):
    """A lot in a box, or one that left in it."""

    lot_id: int
    lot: str
    item: str
    item_name: str
    model: str | None
    model_name: str | None
    colorway: str | None
    colorway_name: str | None
    pieces: int
    grade: str
    disposition: str
    expires_at: datetime | None
    gtin: str


class BoxContents(NamedTuple):
    """All that is in a box or left in it, by lot id, and the shipment it left with."""

    rows: list[ContentRow]
    shipment_id: int | None


@dataclass(frozen=True, slots=True)
class BoxRow:
    """A box as it stands.

    Attributes:
        lots: What is in this very box.
        boxes: Codes of the boxes that stand in it, one level down.
        pieces: All in it, those in its boxes too.
        shipment: The shipment it left with, or empty.
        sscc: Its SSCC, if one was allotted.
    """

    code: str
    state: str
    parent: str | None
    by: str
    packed_at: datetime
    recorded_at: datetime
    lots: list[ContentRow]
    boxes: list[str]
    pieces: int
    shipment: str | None
    sscc: str | None


def boxes() -> QuerySet[Box]:
    """Every box, to be filtered and paged; `box_rows` makes rows of a page."""
    return Box.objects.select_related("parent", "by")


def box_named(code: str) -> Box:
    """One statement.

    Raises:
        NotFoundError: no box has that code.
    """
    box = boxes().filter(code=code).first()
    if box is None:
        raise NotFoundError("No box has this code. Scan its label again.", box=code)
    return box


def boxes_inside(box_ids: Iterable[int]) -> dict[int, set[int]]:
    """Ids of each box and of all that stand in it, however deep, by its id. One statement."""
    return _walk(box_ids, here="parent_id", onward="id")


def inside_box(code: str) -> RawSQL:
    """A subquery for the ids of one box and of all that stand in it."""
    begin = f"SELECT id FROM {_table()} WHERE code = %s"  # noqa: S608 - our own table name
    return RawSQL(_walking("box_id", begin, here="parent_id", onward="id"), [code])  # noqa: S611


def boxes_around(box_ids: Iterable[int]) -> dict[int, set[int]]:
    """Ids of each box and of all that it stands in, by its id. One statement."""
    return _walk(box_ids, here="id", onward="parent_id")


def _walk(box_ids: Iterable[int], *, here: str, onward: str) -> dict[int, set[int]]:
    ids = list(box_ids)
    found: dict[int, set[int]] = {box_id: {box_id} for box_id in ids}
    if ids:
        with connection.cursor() as cursor:
            sql = _walking("root, box_id", each_id(), here=here, onward=onward)
            cursor.execute(sql, [parameter(ids)])
            for root, box_id in cursor.fetchall():
                found[int(root)].add(int(box_id))
    return found


def _walking(columns: str, begin: str, *, here: str, onward: str) -> str:
    # UNION, not UNION ALL: even a cycle that should not be there would end.
    return f"""
        WITH RECURSIVE walk (root, box_id) AS (
            SELECT id, id FROM {_table()} WHERE id {within(begin)}
            UNION
            SELECT walk.root, b.{onward} FROM walk JOIN {_table()} b ON b.{here} = walk.box_id
            WHERE b.{onward} IS NOT NULL
        )
        SELECT {columns} FROM walk
    """  # noqa: S608 - our own table and column names


def _table() -> str:
    return connection.ops.quote_name(Box._meta.db_table)


def box_rows(found: Sequence[Box]) -> list[BoxRow]:
    """Boxes with what is in them. At most five statements when parent and person are loaded."""
    inside = boxes_inside(box.pk for box in found)
    every = {box.pk: box for box in Box.objects.filter(pk__in=set().union(*inside.values()))}
    lots, shipment_ids = _contents(list(every.values()))
    children: dict[int, list[str]] = defaultdict(list)
    for box in sorted(every.values(), key=lambda box: box.pk):
        if box.parent_id is not None:
            children[box.parent_id].append(box.code)
    numbers = ssccs_of(box.code for box in found)
    rows = []
    for box in found:
        left = {shipment_ids[each] for each in inside[box.pk] if each in shipment_ids}
        rows.append(
            BoxRow(
                code=box.code,
                state=box.state,
                parent=None if box.parent is None else box.parent.code,
                by=box.by.username,
                packed_at=box.packed_at,
                recorded_at=box.recorded_at,
                lots=lots[box.pk],
                boxes=children[box.pk],
                pieces=sum(row.pieces for each in inside[box.pk] for row in lots[each]),
                shipment=encode(max(left), "S") if left else None,
                sscc=numbers.get(box.code),
            )
        )
    return rows


def ssccs_of(codes: Iterable[str]) -> dict[str, str]:
    """SSCC by the code of its box, for those that have one. One statement."""
    rows = BoxSscc.objects.filter(AmongCodes("box__code", codes))
    return dict(rows.values_list("box__code", "sscc"))


def box_of_sscc(sscc: str) -> Box:
    """The box that an SSCC was allotted to. One statement.

    Raises:
        NotFoundError: it is not one of ours.
    """
    box = boxes().filter(sscc_row__sscc=sscc).first()
    if box is None:
        raise NotFoundError("No box of this shop has this SSCC: it is another shop's.", sscc=sscc)
    return box


def _contents(every: Sequence[Box]) -> tuple[dict[int, list[ContentRow]], dict[int, int]]:
    """What is in each box, and the shipment it left with, by box id. At most two statements."""
    rows: dict[int, list[ContentRow]] = defaultdict(list)
    shipment_ids: dict[int, int] = {}
    here = {box.place_id: box.pk for box in every if box.state != BoxState.SHIPPED}
    gone = [box.pk for box in every if box.state == BoxState.SHIPPED]
    if here:
        for lot in _with_item(Lot.objects.filter(Among("place", here), on_hand_base__gt=0)):
            rows[here[lot.place_id]].append(_content(lot, lot.on_hand_base))
    if gone:
        lines = ShipmentLine.objects.filter(
            Among("box", gone), shipment__posting__reversed_by__isnull=True
        )
        related = ("lot__item__model", "lot__item__colorway")
        for line in lines.select_related(*related).order_by("lot_id"):
            assert line.box_id is not None
            rows[line.box_id].append(_content(line.lot, line.qty_base))
            shipment_ids[line.box_id] = line.shipment_id
    return rows, shipment_ids


def _with_item(lots: QuerySet[Lot]) -> Iterator[Lot]:
    return lots.select_related("item__model", "item__colorway").order_by("pk").iterator()


def _content(lot: Lot, pieces: int) -> ContentRow:
    item = lot.item
    return ContentRow(
        lot_id=lot.pk,
        lot=lot.code,
        item=item.code,
        item_name=item.name,
        model=None if item.model is None else item.model.code,
        model_name=None if item.model is None else item.model.name,
        colorway=None if item.colorway is None else item.colorway.code,
        colorway_name=None if item.colorway is None else item.colorway.name,
        pieces=pieces,
        grade=lot.grade,
        disposition=lot.disposition,
        expires_at=lot.expires_at,
        gtin=item.gtin,
    )


def contents_of(found: Sequence[Box]) -> dict[int, BoxContents]:
    """What is in boxes and in the boxes in them, or left in them, by id of the box.

    At most four statements.
    """
    inside = boxes_inside(box.pk for box in found)
    every = Box.objects.filter(Among("pk", set().union(*inside.values())))
    lots, shipment_ids = _contents(list(every))
    return {
        box_id: BoxContents(
            rows=sorted(
                (row for each in ids for row in lots.get(each, ())), key=lambda row: row.lot_id
            ),
            shipment_id=max(
                (shipment_ids[each] for each in ids if each in shipment_ids), default=None
            ),
        )
        for box_id, ids in inside.items()
    }
