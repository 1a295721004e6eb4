"""What a scan leads to: one look into the tables that have codes."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any, Final, NamedTuple

from django.db.models import Field, IntegerField, Model, QuerySet, TextField, Value
from django.db.models.functions import Cast

from batches.labels.models import Printing
from batches.labels.selectors.gs1 import box_code, gs1_target, several
from batches.labels.selectors.targets import ScanTarget, delivery, target
from batches.packing.models import Box, Complaint, Customer, CustomerOrder, Shipment
from batches.quality.models import Check, CheckDefinition
from batches.recall.models import Recall
from batches.runs.models import Batch, Entry
from inventory.catalog.models import Colorway, Equipment, Item, LureModel, Place, Supplier
from inventory.purchasing.models import Receipt, SupplierOrder
from inventory.purchasing.selectors import labeled, said_by
from inventory.stock.models import Count, Hold, Lot, Posting
from shopfloor.codes.alphabet import Prefix, decode, noun
from shopfloor.codes.gluing import tails
from shopfloor.codes.gs1 import GTIN_LENGTHS
from shopfloor.codes.scan import Scan, read_scan, two_codes
from shopfloor.errors import NotFoundError
from shopfloor.fields import CODE_LENGTH_MAX


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
    _Named("check definition", CheckDefinition, "check-definitions"),
)
BY_NUMBER: Final = {
    Prefix.ENTRY: _Named("entry", Entry, "entries"),
    Prefix.POSTING: _Named("posting", Posting, "postings"),
    Prefix.RECEIPT: _Named("receipt", Receipt, "receipts"),
    Prefix.COUNT: _Named("count", Count, "counts"),
    Prefix.SHIPMENT: _Named("shipment", Shipment, "shipments"),
    Prefix.HOLD: _Named("hold", Hold, "holds"),
    Prefix.CHECK: _Named("check", Check, "checks"),
    Prefix.COMPLAINT: _Named("complaint", Complaint, "complaints"),
    Prefix.PRINTING: _Named("printing", Printing, "printings"),
    Prefix.RECALL: _Named("recall", Recall, "recalls"),
}
WITH_HYPHEN_RANK: Final = 100
GTIN_RANK: Final = 200
SUPPLIER_LOT_RANK: Final = 300
IN_CAPITALS_RANK: Final = 400  # or in small letters: caps lock was on, or it was typed
GLUED_LENGTH_MAX: Final = 2 * CODE_LENGTH_MAX


class _Hit(NamedTuple):
    rank: int
    kind: str
    code: str


def scan_target(text: str, *, on: date) -> ScanTarget:
    """What was scanned: a code of ours, one the shop gave, GS1 data, or a supplier's lot.

    One statement for a plain code that stands here, one or two more for one that does not.

    Args:
        text: As it was sent.
        on: Today, for the century of days in GS1 data.

    Raises:
        ScanUnreadableError: nothing, or far too much.
        TwoCodesError: two labels at once.
        NotFoundError: nothing here has it; the facts say what was read.
        ScanAmbiguousError: several lots on hand have this code of their supplier.
        ScanContradictsError, InvalidInputError: see `gs1_target`, `read_scan`.
    """
    scan = read_scan(text)
    if scan.elements is not None:
        return gs1_target(scan, on=on)
    if scan.kind in BY_NUMBER:
        named, number = BY_NUMBER[scan.kind], decode(scan.code)[1]
        if named.model._default_manager.filter(pk=number).exists():
            return target(named.kind, named.plural, scan.code)
        raise _nothing(scan)
    hits = sorted(_Hit(*row) for row in _union(scan))
    if not hits:
        if scan.sscc and (code := box_code(scan.sscc)) is not None:
            return target("box", "boxes", code)
        refuse_stored_twice(scan)
        raise _nothing(scan)
    first = hits[0]
    alike = [hit.code for hit in hits if hit.rank == first.rank]
    if first.rank >= SUPPLIER_LOT_RANK and len(alike) > 1:
        raise several(alike, text=scan.text)
    plural = next(named.plural for named in STORED if named.kind == first.kind)
    found = target(first.kind, plural, first.code)
    if first.rank >= SUPPLIER_LOT_RANK:
        return replace(found, meaning=f"{found.meaning[:-1]}, its supplier's {scan.text}.")
    return _by_gtin(found, scan, on=on) if first.rank == GTIN_RANK else found


def _by_gtin(found: ScanTarget, scan: Scan, *, on: date) -> ScanTarget:
    """An item by its GTIN alone, which can be received by it."""
    said = said_by(scan, on=on)
    if said is None:
        return found
    [label] = labeled([said], supplier=None)
    return replace(
        found,
        meaning=f"This is item {found.code}, by its GTIN.",
        delivery=delivery(label, scan=scan.text),
    )


def refuse_stored_twice(scan: Scan) -> None:
    """Refuse what is two codes in a row, each of something here, or the second. One statement.

    Raises:
        TwoCodesError: it is.
    """
    whole = scan.code
    halves = [(whole[:at], whole[at:].strip()) for at in range(1, len(whole))]
    firsts = {first.strip() for first, _ in halves}
    asked = [code for code in {*firsts, *(rest for _, rest in halves)} if code]
    if not asked or len(whole) > GLUED_LENGTH_MAX:
        return
    parts = [
        named.model._default_manager.filter(code__in=asked).order_by().values_list("code")
        for named in STORED
    ]
    known = {code for (code,) in parts[0].union(*parts[1:])}
    is_twice = any(first.strip() in known and rest in known for first, rest in halves)
    if is_twice or known & {*tails(whole)}:
        raise two_codes(scan.text)


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
    in_capitals = Lot.objects.filter(
        supplier_lot_code__iexact=scan.text, on_hand_base__gt=0, parent__isnull=True
    )
    parts.append(_hits(in_capitals, IN_CAPITALS_RANK, "lot"))
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
    if scan.gtin is not None:
        what = "No item here has this GTIN: add it to the item. Nothing has it as its code either."
    if scan.is_mistyped:
        what = "Nothing here has this code, and its check character does not fit: a slip?"
    return NotFoundError(
        f"{what} Compare it with the label, or scan again.",
        text=scan.text,
        code=scan.code,
        kind=None if scan.kind is None else noun(scan.kind),
        symbology=scan.symbology,
    )
