"""What a scan leads to: one look into the tables that have codes."""

from __future__ import annotations

from typing import Any, Final, NamedTuple
from urllib.parse import quote

from django.db.models import Field, IntegerField, Model, QuerySet, TextField, Value
from django.db.models.functions import Cast

from batches.labels.errors import ScanAmbiguousError
from batches.packing.models import Box, Customer, CustomerOrder, Shipment
from batches.runs.models import Batch, Entry
from inventory.catalog.models import Colorway, Equipment, Item, LureModel, Place, Supplier
from inventory.purchasing.models import Receipt, SupplierOrder
from inventory.stock.models import Count, Hold, Lot, Posting
from shopfloor.codes.alphabet import Prefix, decode, noun
from shopfloor.codes.gs1 import GTIN_LENGTHS
from shopfloor.codes.scan import Scan, read_scan
from shopfloor.errors import NotFoundError

API: Final = "/api/v1"


class ScanTarget(NamedTuple):
    """What a scan leads to."""

    kind: str
    code: str
    address: str


class _Named(NamedTuple):
    """A table whose rows have a code of their own."""

    kind: str
    model: type[Model]
    plural: str


# In this order where several have the code: what is scanned at a bench comes first. A box is a
# place too, of the same code.
STORED: Final = (
    _Named("lot", Lot, "lots"),
    _Named("box", Box, "boxes"),
    _Named("batch", Batch, "batches"),
    _Named("item", Item, "items"),
    _Named("place", Place, "places"),
    _Named("equipment", Equipment, "equipment"),
    _Named("customer order", CustomerOrder, "customer-orders"),
    _Named("supplier order", SupplierOrder, "supplier-orders"),
    _Named("model", LureModel, "models"),
    _Named("colorway", Colorway, "colorways"),
    _Named("customer", Customer, "customers"),
    _Named("supplier", Supplier, "suppliers"),
)
BY_NUMBER: Final = {
    Prefix.ENTRY: _Named("entry", Entry, "entries"),
    Prefix.POSTING: _Named("posting", Posting, "postings"),
    Prefix.RECEIPT: _Named("receipt", Receipt, "receipts"),
    Prefix.COUNT: _Named("count", Count, "counts"),
    Prefix.SHIPMENT: _Named("shipment", Shipment, "shipments"),
    Prefix.HOLD: _Named("hold", Hold, "holds"),
}
WITH_HYPHEN_RANK: Final = 100
GTIN_RANK: Final = 200
SUPPLIER_LOT_RANK: Final = 300
# Lots of a supplier's code that are still on hand; more than a few cannot be told apart anyway.
SUPPLIER_LOTS_MAX: Final = 20


class _Hit(NamedTuple):
    rank: int
    kind: str
    code: str


def scan_target(text: str) -> ScanTarget:
    """What was scanned: a code of ours, one the shop gave, a GTIN, or a supplier's lot.

    One statement.

    Raises:
        ScanUnreadableError: nothing, or far too much.
        NotFoundError: nothing here has it; the facts say what was read.
        ScanAmbiguousError: several lots on hand have this code of their supplier.
    """
    scan = read_scan(text)
    if scan.kind in BY_NUMBER:
        named, number = BY_NUMBER[scan.kind], decode(scan.code)[1]
        if named.model._default_manager.filter(pk=number).exists():
            return ScanTarget(named.kind, scan.code, f"{API}/{named.plural}/{scan.code}/")
        raise _nothing(scan)
    hits = sorted(_Hit(*row) for row in _union(scan))
    if not hits:
        raise _nothing(scan)
    first = hits[0]
    if first.rank == SUPPLIER_LOT_RANK and len(hits) > 1:
        raise ScanAmbiguousError(
            "Several lots have this code of their supplier. Scan the sticker of the one meant.",
            text=scan.text,
            lots=[hit.code for hit in hits],
        )
    plural = next(named.plural for named in STORED if named.kind == first.kind)
    return ScanTarget(first.kind, first.code, f"{API}/{plural}/{quote(first.code)}/")


def _union(scan: Scan) -> Any:
    parts = [
        _hits(named.model._default_manager.filter(code=scan.code), rank, named.kind)
        for rank, named in enumerate(STORED)
    ]
    if scan.with_hyphen is not None:
        kinds = {"lot": Lot, "box": Box, "batch": Batch, "customer order": CustomerOrder}
        kinds["supplier order"] = SupplierOrder
        parts += [
            _hits(model._default_manager.filter(code=scan.with_hyphen), WITH_HYPHEN_RANK, kind)
            for kind, model in kinds.items()
        ]
    if scan.text.isdigit() and scan.text.isascii() and len(scan.text) in GTIN_LENGTHS:
        gtin = scan.text.rjust(max(GTIN_LENGTHS), "0")
        parts.append(_hits(Item.objects.filter(gtin=gtin), GTIN_RANK, "item"))
    suppliers = Lot.objects.filter(
        supplier_lot_code=scan.text, on_hand_base__gt=0, parent__isnull=True
    )
    parts.append(_hits(suppliers, SUPPLIER_LOT_RANK, "lot"))
    return parts[0].union(*parts[1:], all=True)


def _hits(rows: QuerySet[Any], rank: int, kind: str) -> Any:
    """Rank, kind and code; the types are told, since a union takes them from its first part."""
    text: Field[Any, Any] = TextField()
    return (
        rows.order_by()
        .annotate(
            hit_rank=Value(rank, output_field=IntegerField()),
            hit_kind=Value(kind, output_field=text),
            hit_code=Cast("code", TextField()),
        )
        .values_list("hit_rank", "hit_kind", "hit_code")
    )


def _nothing(scan: Scan) -> NotFoundError:
    what = "Nothing here has this code."
    if scan.is_mistyped:
        what = "Nothing here has this code, and its check character does not fit: a slip?"
    return NotFoundError(
        f"{what} Compare it with the label, or scan again.",
        text=scan.text,
        code=scan.code,
        kind=None if scan.kind is None else noun(scan.kind),
        symbology=scan.symbology,
    )
