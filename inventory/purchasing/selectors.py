"""Reads of orders and receipts; each states its queries.

A reversed receipt does not count as received.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, NamedTuple

from django.db.models import F, OuterRef, Prefetch, Q, QuerySet, Subquery, Sum, Value, Window
from django.db.models.functions import Coalesce, RowNumber

from inventory.catalog.models import Item, Offer, Place, Supplier
from inventory.catalog.selectors import measure_of, shown_amount
from inventory.purchasing.models import (
    OrderState,
    Receipt,
    ReceiptLine,
    SupplierOrder,
    SupplierOrderLine,
)
from inventory.purchasing.rules import gtin_spellings, labeled_amount, open_base
from inventory.stock.models import Lot, Movement
from shopfloor.codes.alphabet import Prefix, decode
from shopfloor.codes.gluing import tails
from shopfloor.codes.gs1.deliveries import Delivered, delivered
from shopfloor.codes.scan import Scan, two_codes
from shopfloor.days import shop_day
from shopfloor.errors import NotFoundError
from shopfloor.fields import Amount
from shopfloor.units import Dimension

ORDER_STATES = OrderState.choices

# Of an order line's receipts, those that were not reversed.
STANDING = Q(receipt_lines__receipt__posting__reversed_by__isnull=True)


class LeadTime(NamedTuple):
    """How long one order line took: the order's day to the shop's day of its first delivery."""

    item_id: int
    supplier_id: int
    days: int


class Progress(NamedTuple):
    """How far an order line is, in base units of its item."""

    ordered_base: int
    received_base: int
    open_base: int


class ToCome(NamedTuple):
    """What is still to come on an open order line, and when it was promised for."""

    item_id: int
    order: str
    promised_on: date | None
    qty_base: int


def still_to_come(on: date) -> list[ToCome]:
    """What is still to come on open lines, oldest first.

    Only orders placed on that day or before count; of those, what is open now. One query.
    """
    lines = (
        lines_with_received()
        .filter(is_closed=False, order__state=OrderState.OPEN, order__ordered_on__lte=on)
        .order_by("pk")
        .values_list(
            *("item_id", "order__code", "promised_on", "packs", "pack_base", "received_base")
        )
    )
    found = []
    for item_id, order, promised_on, packs, pack_base, received_base in lines:
        still = open_base(
            ordered_base=packs * pack_base, received_base=received_base, is_closed=False
        )
        if still:
            found.append(ToCome(item_id, order, promised_on, still))
    return found


def open_order_base(on: date) -> dict[int, int]:
    """Base units on order of each item, by item id, as `still_to_come` has them. One query."""
    return on_order_base(still_to_come(on))


def on_order_base(lines: Iterable[ToCome]) -> dict[int, int]:
    """What is still to come, by item id; items with nothing on order are left out. No query."""
    found: dict[int, int] = {}
    for line in lines:
        found[line.item_id] = found.get(line.item_id, 0) + line.qty_base
    return found


LATEST_LINES: Final = 24
"""Of an item and supplier: what they took years ago says nothing, and would cost more each year."""


def lead_times_days() -> list[LeadTime]:
    """A row for each order line of which anything came, oldest first; of the latest lines only.

    Days are from the order's day to the shop's day of the line's first receipt that was not
    reversed: the day from which there was something to use. A later part of the same line does not
    count. One query, which looks for receipts line by line: a join would read all that there are.
    """
    age = Window(RowNumber(), partition_by=["item", "order__supplier"], order_by=F("pk").desc())
    latest = SupplierOrderLine.objects.annotate(age=age).filter(age__lte=LATEST_LINES)
    received = ReceiptLine.objects.filter(
        order_line=OuterRef("pk"), receipt__posting__reversed_by__isnull=True
    ).order_by("receipt__posting__at")
    lines = (
        SupplierOrderLine.objects.filter(pk__in=latest.order_by().values("pk"))
        .annotate(first_at=Subquery(received.values("receipt__posting__at")[:1]))
        .order_by("pk")
        .values_list("item_id", "order__supplier_id", "order__ordered_on", "first_at")
    )
    return [
        LeadTime(item_id, supplier_id, (shop_day(first_at) - ordered_on).days)
        for item_id, supplier_id, ordered_on, first_at in lines
        if first_at is not None
    ]


def lines_with_received() -> QuerySet[Any]:
    """Order lines with `received_base`."""
    received = Coalesce(Sum("receipt_lines__qty_base", filter=STANDING), 0)
    return SupplierOrderLine.objects.annotate(received_base=received)


def progress(line: Any) -> Progress:
    """How far a line of `lines_with_received` is. No query."""
    ordered_base = line.packs * line.pack_base
    return Progress(
        ordered_base=ordered_base,
        received_base=line.received_base,
        open_base=open_base(
            ordered_base=ordered_base, received_base=line.received_base, is_closed=line.is_closed
        ),
    )


def orders() -> QuerySet[SupplierOrder]:
    """Orders with their lines, to be filtered and paged; three queries a page."""
    lines = lines_with_received().select_related("item").order_by("position")
    return SupplierOrder.objects.select_related("supplier", "by").prefetch_related(
        Prefetch("lines", lines)
    )


def order(code: str) -> SupplierOrder:
    """One order with its lines and its receipts. Three queries.

    Raises:
        NotFoundError: no such order.
    """
    of_order = Receipt.objects.select_related("posting__reversed_by").order_by("pk")
    rows = orders().prefetch_related(Prefetch("receipts", of_order))
    row = rows.filter(code=code.strip().upper()).first()
    if row is None:
        raise NotFoundError("No supplier order has this code. Look at the list.", order=code)
    return row


def order_lines() -> QuerySet[Any]:
    """Lines of orders with `received_base` and `supplier_item_number`, to be filtered and paged."""
    number = Offer.objects.filter(
        supplier=OuterRef("order__supplier"), item=OuterRef("item"), pack_base=OuterRef("pack_base")
    )
    rows: QuerySet[Any] = (
        lines_with_received()
        .select_related("item", "order__supplier")
        .annotate(
            supplier_item_number=Coalesce(
                Subquery(number.values("supplier_item_number")[:1]), Value("")
            )
        )
    )
    return rows


def receipts() -> QuerySet[Receipt]:
    """Receipts with their lines, to be filtered and paged; three queries a page.

    Each line has `value_micro`, what came in, and `before_base`, what had come on its order line
    before.
    """
    value = Movement.objects.filter(posting=OuterRef("receipt_id"), lot=OuterRef("lot_id"))
    before = (
        ReceiptLine.objects.filter(
            order_line=OuterRef("order_line"),
            pk__lt=OuterRef("pk"),
            receipt__posting__reversed_by__isnull=True,
        )
        .order_by()
        .values("order_line")
        .annotate(sum_base=Sum("qty_base"))
        .values("sum_base")
    )
    lines = (
        ReceiptLine.objects.select_related("lot__item", "lot__place", "order_line__order")
        .annotate(
            value_micro=Coalesce(Subquery(value.values("value_micro")[:1]), 0),
            before_base=Coalesce(Subquery(before), 0),
        )
        .order_by("pk")
    )
    return Receipt.objects.select_related(
        "supplier", "order", "posting__by", "posting__reversed_by"
    ).prefetch_related(Prefetch("lines", lines))


def receipt(code: str) -> Receipt:
    """One receipt with its lines. Two queries.

    Raises:
        NotFoundError: no such receipt.
        CodeUnreadableError, CodeTypoError, WrongKindOfCodeError: not the code of a receipt.
    """
    row = receipts().filter(pk=decode(code, Prefix.RECEIPT)[1]).first()
    if row is None:
        raise NotFoundError("No receipt has this code. Look at the list.", receipt=code)
    return row


@dataclass(frozen=True, slots=True)
class Labeled:
    """What a supplier's label says, and which item of ours it is on.

    Attributes:
        said: What it says.
        item: Ours by its GTIN, by the GTIN or number in an offer, or by our own code of it; None:
            none, or several.
        offers: The offers that have its GTIN or number.
    """

    said: Delivered
    item: Item | None
    offers: tuple[Offer, ...]

    @property
    def expires_on(self) -> date | None:
        """Use by; of a label without it, best before."""
        return self.said.expiry_on or self.said.best_before_on

    def amount_of(self, item: Item) -> Amount | None:
        """How much of an item came, if the label says so. No query."""
        dimension = measure_of(item).dimension
        packs = {offer.pack_base for offer in self.offers if offer.item_id == item.pk}
        if self.said.gtin and item.gtin == self.said.gtin and dimension is Dimension.COUNT:
            packs.add(1)
        article_base = packs.pop() if len(packs) == 1 else None
        found = labeled_amount(self.said, dimension=dimension, article_base=article_base)
        if found is None:
            return None
        if self.said.articles is not None:
            return shown_amount(item, int(found.amount))
        return Amount(found.amount, found.unit)


def said_by(scan: Scan, *, on: date) -> Delivered | None:
    """What a scan says of a delivery: GS1 data, or a GTIN alone; None of any other. No query.

    Args:
        scan: As read.
        on: Today, for the century of days.
    """
    if scan.elements is not None:
        return delivered(scan.elements, reference_year=on.year)
    return Delivered(gtin=scan.gtin) if scan.gtin else None


def labeled(labels: Sequence[Delivered], *, supplier: Supplier | None) -> list[Labeled]:
    """The items that labels are on, in the order of the labels. Two queries.

    Args:
        labels: What they say.
        supplier: Who delivers. None: not known; then a supplier's own number of an article, which
            another may have too, leads nowhere.
    """
    gtins = {said.gtin for said in labels if said.gtin}
    codes = {said.our_item_code.upper() for said in labels if said.our_item_code}
    items = list(Item.objects.filter(Q(gtin__in=gtins) | Q(code__in=codes), is_active=True))
    numbers = {number for said in labels for number in _numbers(said, supplier)}
    offers = Offer.objects.filter(supplier_item_number__in=numbers, is_active=True)
    if supplier is not None:
        offers = offers.filter(supplier=supplier)
    found = list(offers.select_related("item", "supplier").order_by("pk"))
    return [_labeled(said, items, found, supplier) for said in labels]


def refuse_glued(lot_codes: Iterable[str]) -> None:
    """Refuse suppliers' lots behind which the code of something here was scanned too.

    One statement, none where no lot ends like such a code.

    Raises:
        TwoCodesError: one is.
    """
    asked = {tail: lot_code for lot_code in lot_codes for tail in tails(lot_code.upper())}
    if not asked:
        return
    tables = (Lot, Item, Place)  # a box is a place too, of the same code
    parts = [
        model._default_manager.filter(code__in=asked).order_by().values_list("code")
        for model in tables
    ]
    for (code,) in parts[0].union(*parts[1:])[:1]:
        raise two_codes(asked[code])


def _labeled(
    said: Delivered, items: Iterable[Item], offers: Iterable[Offer], supplier: Supplier | None
) -> Labeled:
    numbers = _numbers(said, supplier)
    its_offers = tuple(offer for offer in offers if offer.supplier_item_number in numbers)
    code = (said.our_item_code or "").upper()
    ways = (
        [item for item in items if said.gtin and item.gtin == said.gtin],
        list({offer.item_id: offer.item for offer in its_offers}.values()),
        [item for item in items if item.code == code],
    )
    best = next((way for way in ways if way), [])
    return Labeled(said, best[0] if len(best) == 1 else None, its_offers)


def _numbers(said: Delivered, supplier: Supplier | None) -> list[str]:
    """What an offer's number may be: the GTIN, and of a known supplier its own (240)."""
    numbers = gtin_spellings(said.gtin) if said.gtin else []
    if supplier is not None and said.supplier_item_code:
        numbers.append(said.supplier_item_code)
    return numbers
