"""What left to whom, and what came back."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import NamedTuple

from django.db.models import QuerySet, Sum

from batches.packing.models import CustomerReturn, Shipment, ShipmentLine
from inventory.stock.models import Movement, Posting
from shopfloor.codes.alphabet import Prefix, decode
from shopfloor.errors import NotFoundError


class ShipmentLineRow(NamedTuple):
    """A lot that left; pieces."""

    lot: str
    item: str
    item_name: str
    box: str | None
    order_line: int | None
    pieces: int
    returned: int
    price_micro: int
    purpose: str


class ShipmentRow(NamedTuple):
    """A shipment: `price_micro` is its price, `cost_micro` the direct material in it."""

    code: str
    customer: str
    customer_name: str
    order: str | None
    carrier: str
    at: datetime
    recorded_at: datetime
    by: str
    reason: str
    reversed_by: str | None
    price_micro: int
    cost_micro: int
    lines: list[ShipmentLineRow]


class ReturnLineRow(NamedTuple):
    """Pieces of a lot that came back, and where it stands now."""

    lot: str
    item: str
    item_name: str
    place: str
    pieces: int


class ReturnRow(NamedTuple):
    """What came back in one go: `cost_micro` is the direct material in it."""

    posting: str
    shipment: str
    complaint: str | None
    customer: str
    customer_name: str
    at: datetime
    recorded_at: datetime
    by: str
    reason: str
    reversed_by: str | None
    cost_micro: int
    lines: list[ReturnLineRow]


def shipments() -> QuerySet[Shipment]:
    """Every shipment, to be filtered and paged; `shipment_rows` makes rows of a page."""
    return Shipment.objects.select_related(
        "customer", "order", "posting__by", "posting__reversed_by"
    )


def shipment_named(code: str) -> Shipment:
    """One statement.

    Raises:
        CodeUnreadableError, CodeTypoError, WrongKindOfCodeError: not the code of a shipment.
        NotFoundError: no shipment has that code.
    """
    shipment = shipments().filter(pk=decode(code, Prefix.SHIPMENT)[1]).first()
    if shipment is None:
        raise NotFoundError("No shipment has this code. Look at the list.", shipment=code)
    return shipment


def returned_sums(shipment_ids: Iterable[int]) -> dict[tuple[int, int], tuple[int, int]]:
    """Pieces and value that came back, by shipment and lot id. One statement."""
    sums = (
        Movement.objects.filter(
            posting__customer_return__shipment__in=list(shipment_ids),
            posting__reversed_by__isnull=True,
        )
        .order_by()
        .values_list("posting__customer_return__shipment_id", "lot_id")
        .annotate(pieces=Sum("qty_base"), value=Sum("value_micro"))
    )
    return {(shipment, lot): (int(pieces), int(value)) for shipment, lot, pieces, value in sums}


def shipment_rows(found: Sequence[Shipment]) -> list[ShipmentRow]:
    """Shipments with their lines. Two statements when loaded by `shipments`."""
    ids = [shipment.pk for shipment in found]
    returned = returned_sums(ids)
    lines: dict[int, list[ShipmentLineRow]] = defaultdict(list)
    related = ("lot__item", "box", "order_line")
    for line in (
        ShipmentLine.objects.filter(shipment__in=ids).select_related(*related).order_by("id")
    ):
        lines[line.shipment_id].append(
            ShipmentLineRow(
                lot=line.lot.code,
                item=line.lot.item.code,
                item_name=line.lot.item.name,
                box=None if line.box is None else line.box.code,
                order_line=None if line.order_line is None else line.order_line.position,
                pieces=line.qty_base,
                returned=returned.get((line.shipment_id, line.lot_id), (0, 0))[0],
                price_micro=line.price_micro,
                purpose=line.purpose,
            )
        )
    return [_row(shipment, lines[shipment.pk]) for shipment in found]


def _row(shipment: Shipment, lines: list[ShipmentLineRow]) -> ShipmentRow:
    posting = shipment.posting
    return ShipmentRow(
        code=shipment.code,
        customer=shipment.customer.code,
        customer_name=shipment.customer.name,
        order=None if shipment.order is None else shipment.order.code,
        carrier=shipment.carrier,
        at=posting.at,
        recorded_at=posting.recorded_at,
        by=posting.by.username,
        reason=posting.reason,
        reversed_by=_reversal_code(posting),
        price_micro=sum(line.pieces * line.price_micro for line in lines),
        cost_micro=-posting.outside_micro,
        lines=lines,
    )


def _reversal_code(posting: Posting) -> str | None:
    reversal: Posting | None = getattr(posting, "reversed_by", None)
    return None if reversal is None else reversal.code


def customer_returns() -> QuerySet[CustomerReturn]:
    """Every return, to be filtered and paged; `return_rows` makes rows of a page."""
    return CustomerReturn.objects.select_related(
        "shipment__customer", "complaint", "posting__by", "posting__reversed_by"
    )


def customer_return_named(code: str) -> CustomerReturn:
    """One return, by the code of its posting. One statement.

    Raises:
        CodeUnreadableError, CodeTypoError, WrongKindOfCodeError: not the code of a posting.
        NotFoundError: no return has that code.
    """
    found = customer_returns().filter(pk=decode(code, Prefix.POSTING)[1]).first()
    if found is None:
        raise NotFoundError("No customer return has this code. Look at the list.", posting=code)
    return found


def return_rows(found: Sequence[CustomerReturn]) -> list[ReturnRow]:
    """Returns with their lines. One statement when loaded by `customer_returns`."""
    lines: dict[int, list[ReturnLineRow]] = defaultdict(list)
    for move in (
        Movement.objects.filter(posting__in=[returned.pk for returned in found])
        .select_related("lot__item", "lot__place")
        .order_by("id")
    ):
        lot = move.lot
        lines[move.posting_id].append(
            ReturnLineRow(lot.code, lot.item.code, lot.item.name, lot.place.code, move.qty_base)
        )
    return [_return_row(returned, lines[returned.pk]) for returned in found]


def _return_row(returned: CustomerReturn, lines: list[ReturnLineRow]) -> ReturnRow:
    posting = returned.posting
    customer = returned.shipment.customer
    return ReturnRow(
        posting=posting.code,
        shipment=returned.shipment.code,
        complaint=None if returned.complaint is None else returned.complaint.code,
        customer=customer.code,
        customer_name=customer.name,
        at=posting.at,
        recorded_at=posting.recorded_at,
        by=posting.by.username,
        reason=posting.reason,
        reversed_by=_reversal_code(posting),
        cost_micro=posting.outside_micro,
        lines=lines,
    )
