"""Complaints, and which lots that left they may be of."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any, NamedTuple

from django.db import connection
from django.db.models import Prefetch, Q, QuerySet, Sum

from batches.packing.models import Complaint, CustomerReturn, ShipmentLine
from batches.packing.selectors.boxes import boxes_inside
from inventory.stock.models import Lot
from inventory.stock.selectors.among import Among, AmongCodes, each_id, parameter, within
from inventory.stock.selectors.lineage import is_standing
from shopfloor.codes.alphabet import Prefix, decode, encode
from shopfloor.days import day_start, shop_day
from shopfloor.errors import NotFoundError


class ComplaintRow(NamedTuple):
    """A complaint as the API answers it."""

    code: str
    defect: str
    defect_name: str
    pieces: int
    told_on: date
    customer: str | None
    customer_name: str | None
    box: str | None
    lot: str | None
    item: str | None
    model: str | None
    bought_first_on: date | None
    bought_last_on: date | None
    note: str
    by: str
    recorded_at: datetime
    replaces: str | None
    replaced_by: str | None
    returns: list[str]


class LeftRow(NamedTuple):
    """A lot that left, whole, as far as a complaint may be of it."""

    lot_id: int
    box_id: int | None
    item_id: int
    item: str
    model_id: int | None
    customer_id: int
    left_on: date
    pieces: int


class StandingComplaint(NamedTuple):
    """A complaint that counts.

    Attributes:
        pieces: Pieces that have the defect; which of `lots` they are of is not known.
        told_on: The shop's day.
        is_narrow: It names a box or a lot; else a model or item, and `lots` is all that it may be.
        lots: What left and may be meant; empty where the shipment was reversed since.
    """

    code: str
    defect: str
    pieces: int
    told_on: date
    is_narrow: bool
    lots: list[LeftRow]

    @property
    def lot_ids(self) -> set[int]:
        """Lots that left, as they left: parts of what was made."""
        return {row.lot_id for row in self.lots}


def complaints() -> QuerySet[Complaint]:
    """Every complaint, to be filtered and paged; two statements a page, and one of the count."""
    related = ("defect", "customer", "box", "lot", "item", "model", "by", "replaces", "replaced_by")
    return Complaint.objects.select_related(*related).prefetch_related(
        Prefetch("returns", CustomerReturn.objects.select_related("posting"))
    )


def complaint_named(code: str) -> Complaint:
    """One complaint. Two statements.

    Raises:
        CodeUnreadableError, CodeTypoError, WrongKindOfCodeError: not the code of a complaint.
        NotFoundError: no complaint has that code.
    """
    found = complaints().filter(pk=decode(code, Prefix.COMPLAINT)[1]).first()
    if found is None:
        raise NotFoundError("No complaint has this code. Look at the list.", complaint=code)
    return found


def complaint_row(complaint: Complaint) -> ComplaintRow:
    """A row, out of what `complaints` has loaded."""
    replaced_by = getattr(complaint, "replaced_by", None)
    customer = complaint.customer
    return ComplaintRow(
        code=complaint.code,
        defect=complaint.defect.code,
        defect_name=complaint.defect.name,
        pieces=complaint.pieces,
        told_on=complaint.told_on,
        customer=None if customer is None else customer.code,
        customer_name=None if customer is None else customer.name,
        box=None if complaint.box is None else complaint.box.code,
        lot=None if complaint.lot is None else complaint.lot.code,
        item=None if complaint.item is None else complaint.item.code,
        model=None if complaint.model is None else complaint.model.code,
        bought_first_on=complaint.bought_first_on,
        bought_last_on=complaint.bought_last_on,
        note=complaint.note,
        by=complaint.by.username,
        recorded_at=complaint.recorded_at,
        replaces=None if complaint.replaces is None else complaint.replaces.code,
        replaced_by=None if replaced_by is None else replaced_by.code,
        returns=sorted(each.posting.code for each in complaint.returns.all()),
    )


def complaints_naming(*, lots: Collection[str], boxes: Collection[str]) -> list[ComplaintRow]:
    """Those that stand and name one of these lots or boxes, oldest first. Two statements."""
    found = complaints().filter(
        Q(AmongCodes("lot__code", lots)) | Q(AmongCodes("box__code", boxes)),
        replaced_by__isnull=True,
    )
    return [complaint_row(row) for row in found.order_by("pk")]


def standing_complaints(
    *, first_on: date, last_on: date, defect: str | None = None
) -> list[StandingComplaint]:
    """Complaints told in those days, of one defect or of all; replaced ones do not count.

    At most four statements, however many they are.
    """
    found = Complaint.objects.filter(
        told_on__range=(first_on, last_on), replaced_by__isnull=True
    ).select_related("defect")
    if defect is not None:
        found = found.filter(defect__code=defect)
    rows = list(found.order_by("told_on", "pk"))
    return [
        StandingComplaint(
            code=row.code,
            defect=row.defect.code,
            pieces=row.pieces,
            told_on=row.told_on,
            is_narrow=row.bought_first_on is None,
            lots=lots,
        )
        for row, lots in zip(rows, left_of(rows), strict=True)
    ]


def left_of(rows: Sequence[Complaint]) -> list[list[LeftRow]]:
    """What left by the day of each complaint and may be meant by it. At most three statements.

    Of a box all in it; of a lot all that was split off it too; else what left in the days named.
    The complaints need not be saved.
    """
    inside = boxes_inside({row.box_id for row in rows if row.box_id is not None})
    parts = parts_of({row.lot_id for row in rows if row.lot_id is not None})
    since = min((row.bought_first_on for row in rows if row.bought_first_on), default=date.min)
    left = _left(
        {
            "box": set().union(*inside.values()),
            "lot": set().union(*parts.values()),
            "lot__item": {row.item_id for row in rows if row.item_id},
            "lot__item__model": {row.model_id for row in rows if row.model_id},
        },
        since=since,
    )
    by_box, by_lot = _by(left, lambda line: line.box_id), _by(left, lambda line: line.lot_id)
    by_item, by_model = _by(left, lambda line: line.item_id), _by(left, lambda line: line.model_id)
    found = []
    for row in rows:
        if row.box_id is not None:
            lines = [line for each in inside[row.box_id] for line in by_box[each]]
        elif row.lot_id is not None:
            lines = [line for each in parts[row.lot_id] for line in by_lot[each]]
        else:
            lines = by_model[row.model_id] if row.item_id is None else by_item[row.item_id]
        first_on = row.bought_first_on or date.min
        last_on = row.bought_last_on or row.told_on
        meant = (line for line in lines if first_on <= line.left_on <= last_on)
        found.append(sorted(meant, key=lambda line: (line.left_on, line.lot_id)))
    return found


def newest_complaint(*, defect_code: str, lot_ids: Collection[int], by: date) -> str | None:
    """Code of the newest complaint of a defect that may be of all of these. Four statements.

    Args:
        defect_code: The defect.
        lot_ids: All of these lots.
        by: The last day on which it was told.
    """
    told = Complaint.objects.filter(
        defect__code=defect_code, replaced_by__isnull=True, told_on__lte=by
    )
    rows = list(told.order_by("-told_on", "-pk"))
    for row, lots in zip(rows, left_of(rows), strict=True):
        if {line.lot_id for line in lots}.issuperset(lot_ids):
            return row.code
    return None


def came_back_for(codes: Iterable[str]) -> dict[str, dict[int, int]]:
    """Pieces that came back for each complaint, by id of the lot they left as. One statement."""
    ids = {decode(code, Prefix.COMPLAINT)[1] for code in codes}
    sums = (
        # From returns, which are few: from movements SQLite would go through all there ever were.
        CustomerReturn.objects.filter(Among("complaint", ids), is_standing("posting"))
        .order_by()
        .values_list("complaint_id", "posting__movements__lot_id")
        .annotate(pieces=Sum("posting__movements__qty_base"))
    )
    found: dict[str, dict[int, int]] = defaultdict(dict)
    for complaint_id, lot_id, pieces in sums:
        found[encode(complaint_id, Prefix.COMPLAINT)][lot_id] = int(pieces)
    return found


def parts_of(lot_ids: Iterable[int]) -> dict[int, set[int]]:
    """Ids of each lot and of all split off it, however often, by its id. One statement."""
    ids = list(lot_ids)
    found: dict[int, set[int]] = {lot_id: {lot_id} for lot_id in ids}
    if not ids:
        return found
    table = connection.ops.quote_name(Lot._meta.db_table)
    sql = f"""
        WITH RECURSIVE down (whole, lot_id) AS (
            SELECT id, id FROM {table} WHERE id {within(each_id())}
            UNION
            SELECT down.whole, part.id FROM down JOIN {table} part ON part.parent_id = down.lot_id
        )
        SELECT whole, lot_id FROM down
    """  # noqa: S608 - our own table names
    with connection.cursor() as cursor:
        cursor.execute(sql, [parameter(ids)])
        for whole, lot_id in cursor.fetchall():
            found[int(whole)].add(int(lot_id))
    return found


def _left(wanted: Mapping[str, Collection[int]], *, since: date) -> list[LeftRow]:
    """Lines of standing shipments that have one of these ids in its column.

    One statement, none for no ids. Lines of an item or model are those since a day.
    """
    found = [
        _lines(column, ids, since=date.min if column in {"box", "lot"} else since)
        for column, ids in wanted.items()
        if ids
    ]
    if not found:
        return []
    # A union, in which each part has an index of its own; the line's id keeps two alike apart.
    rows = found[0].union(*found[1:])
    return [
        LeftRow(lot_id, box_id, item_id, item, model_id, customer_id, shop_day(at), pieces)
        for _, lot_id, box_id, item_id, item, model_id, customer_id, at, pieces in rows
    ]


def _lines(
    column: str, ids: Collection[int], *, since: date
) -> QuerySet[ShipmentLine, tuple[Any, ...]]:
    lines = ShipmentLine.objects.filter(Among(column, ids), is_standing("shipment__posting"))
    if since > date.min:
        lines = lines.filter(shipment__posting__at__gte=day_start(since))
    return lines.order_by().values_list(
        "pk",
        "lot_id",
        "box_id",
        "lot__item_id",
        "lot__item__code",
        "lot__item__model_id",
        "shipment__customer_id",
        "shipment__posting__at",
        "qty_base",
    )


def _by(
    lines: Iterable[LeftRow], key: Callable[[LeftRow], int | None]
) -> dict[int | None, list[LeftRow]]:
    found: dict[int | None, list[LeftRow]] = defaultdict(list)
    for line in lines:
        found[key(line)].append(line)
    return found
