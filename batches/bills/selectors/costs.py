"""Material cost of an item, level by level, and where the cost of every bought item comes from."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final, Literal

from django.db.models import F, Sum, Window
from django.db.models.functions import RowNumber

from batches.bills.rules import BillFigures, UnitCost, needs_below, rolled_up_cost
from batches.bills.selectors.amounts import one_base
from batches.bills.selectors.graph import figures_of
from batches.bills.selectors.sheets import (
    BillSheet,
    SheetItem,
    current_sheets,
    sheet_items,
    sheets_in_force,
)
from inventory.catalog.models import OfferPrice
from inventory.catalog.rules import pack_price_micro
from inventory.stock.models import Disposition, Lot, Movement
from shopfloor.codes.alphabet import Prefix, encode
from shopfloor.errors import NotFoundError

SourceKind = Literal["bill", "lots", "receipt", "offer", "unknown"]
SOURCE_KINDS: Final[tuple[SourceKind, ...]] = ("bill", "lots", "receipt", "offer", "unknown")


@dataclass(frozen=True, slots=True)
class CostSource:
    """Where the cost of a base unit comes from.

    Attributes:
        kind: Its bill; the average of our released lots on hand; else the last receipt; else an
            offer, the preferred or the cheapest; else not known.
        code: The receipt, or the supplier of the offer; else None.
    """

    kind: SourceKind
    code: str | None = None


Sourced = tuple[UnitCost, CostSource]


@dataclass(frozen=True, slots=True, kw_only=True)
class CostLine:
    """One row of the cost sheet, for one good piece (base unit of a mixture) of the item on top."""

    level: int
    item: SheetItem
    need_base: Fraction
    micro_per_base: Fraction | None
    micro: Fraction | None
    source: CostSource


@dataclass(frozen=True, slots=True, kw_only=True)
class CostSheet:
    """Material cost of an item.

    Attributes:
        sheet: The revision costed; None for an item without one, which costs what it is bought at.
        batch: The batch that shares what goes once a batch; None: that is left out.
        micro_per_base: Of one good piece (base unit); None when anything in it has no known cost.
        unknown: Codes of the items without a known cost.
        lines: Depth first, each above what it is made of.
    """

    item: SheetItem
    sheet: BillSheet | None
    batch: int | None
    micro_per_base: Fraction | None
    source: CostSource
    unknown: tuple[str, ...]
    lines: tuple[CostLine, ...]


def cost_sheet(item_code: str, *, number: int | None = None, batch: int | None = None) -> CostSheet:
    """Material cost of an item by its current revision, or the one named. Five statements.

    Args:
        item_code: The item.
        number: A revision of its bill, a draft too.
        batch: Good pieces of the batch (display units of a mixture) that share what goes once a
            batch; lower batches are taken as large as this one needs. None leaves that out.

    Raises:
        NotFoundError: no such item or revision.
    """
    code = item_code.strip().upper()
    item = sheet_items([code])[code]
    sheets = {one.item.code: one for one in sheets_in_force(code, number)}
    if number is not None and code not in sheets:
        raise NotFoundError(
            "The bill has no such revision. Look at its list.", item=code, revision=number
        )
    items = {one.item.code: one.item for one in sheets.values()}
    items |= {line.item.code: line.item for one in sheets.values() for line in one.taken}
    items[code] = item
    sources = _bought(each for each in items.values() if each.code not in sheets)
    costs = {each: cost for each, (cost, _) in sources.items()}
    batch_base = None if batch is None else math.ceil(batch * one_base(item))
    bills = _figures(sheets, code, batch_base)
    rolled = rolled_up_cost(bills=bills, unit_costs=costs, item=code)

    def source(each: str) -> CostSource:
        if each in sheets:
            return CostSource("bill")
        return sources[each][1] if each in sources else CostSource("unknown")

    is_unknown_itself = code not in sheets and code not in sources
    return CostSheet(
        item=item,
        sheet=sheets.get(code),
        batch=batch,
        micro_per_base=rolled.micro_per_piece,
        source=source(code),
        unknown=(code,) if is_unknown_itself else rolled.unknown,
        lines=tuple(
            CostLine(
                level=row.level,
                item=items[row.item],
                need_base=row.need_base,
                micro_per_base=row.micro_per_base,
                micro=row.micro,
                source=source(row.item),
            )
            for row in rolled.rows
        ),
    )


def material_costs(item_codes: Iterable[str]) -> dict[str, Fraction | None]:
    """Material cost of one good piece of some items, what goes once a batch left out.

    By their current bills; None where anything in one has no known cost. Four statements.
    """
    sheets = {one.item.code: one for one in current_sheets()}
    items = {line.item.code: line.item for one in sheets.values() for line in one.taken}
    bought = _bought(each for each in items.values() if each.code not in sheets)
    costs = {each: cost for each, (cost, _) in bought.items()}
    bills = _figures(sheets, "", None)
    return {
        code: rolled_up_cost(bills=bills, unit_costs=costs, item=code).micro_per_piece
        for code in item_codes
    }


def _figures(
    sheets: Mapping[str, BillSheet], code: str, batch_base: int | None
) -> dict[str, BillFigures]:
    plain = {each: _bill(one) for each, one in sheets.items()}
    if batch_base is None:
        return plain
    needs = {**needs_below(bills=plain, item=code), code: Fraction(1)}
    return {
        each: _bill(one, batch_pieces=max(1, math.ceil(needs[each] * batch_base)))
        for each, one in sheets.items()
        if each in needs
    }


def _bill(one: BillSheet, *, batch_pieces: int | None = None) -> BillFigures:
    return BillFigures(
        lines=tuple(
            figures_of(line, per_batch_base=line.per_batch_base if batch_pieces else 0)
            for line in one.taken
        ),
        batch_pieces=batch_pieces or 1,
        scrap_ratio=one.scrap_ratio,
        by_product_ratio=sum((line.value_ratio for line in one.by_products), Decimal(0)),
    )


def _bought(items: Iterable[SheetItem]) -> dict[str, Sourced]:
    """Cost of a base unit and its source, by code; who has none is not in it. Three statements."""
    codes = {item.id: item.code for item in items}
    return _from_offers(codes) | _from_receipts(codes) | _from_lots(codes)


def _sourced(micro_per_base: Fraction, kind: SourceKind, code: str | None = None) -> Sourced:
    return UnitCost(micro_per_base=micro_per_base, source=kind), CostSource(kind, code)


def _from_lots(codes: Mapping[int, str]) -> dict[str, Sourced]:
    rows = (
        Lot.objects.filter(
            item_id__in=codes, owner="", disposition=Disposition.RELEASED, on_hand_base__gt=0
        )
        .order_by()
        .values_list("item_id")
        .annotate(base=Sum("on_hand_base"), micro=Sum("value_micro"))
    )
    return {
        codes[item_id]: _sourced(Fraction(micro, base), "lots") for item_id, base, micro in rows
    }


def _from_receipts(codes: Mapping[int, str]) -> dict[str, Sourced]:
    rows = (
        Movement.objects.filter(
            lot__item_id__in=codes,
            lot__owner="",
            qty_base__gt=0,
            posting__receipt__isnull=False,
            posting__reversed_by__isnull=True,
        )
        .annotate(
            newest=Window(
                RowNumber(),
                partition_by=[F("lot__item_id")],
                order_by=[F("posting__at").desc(), F("id").desc()],
            )
        )
        .filter(newest=1)
        .order_by()
        .values_list("lot__item_id", "qty_base", "value_micro", "posting_id")
    )
    return {
        codes[item_id]: _sourced(
            Fraction(micro, base), "receipt", encode(posting_id, Prefix.RECEIPT)
        )
        for item_id, base, micro, posting_id in rows
    }


def _from_offers(codes: Mapping[int, str]) -> dict[str, Sourced]:
    """The preferred offer's price at its smallest order, else the cheapest of the others."""
    rows = (
        OfferPrice.objects.filter(
            offer__item_id__in=codes, offer__is_active=True, offer__supplier__is_active=True
        )
        .select_related("offer__supplier")
        .order_by("offer_id", "packs_from")
    )
    breaks: dict[int, list[OfferPrice]] = {}
    for row in rows:
        breaks.setdefault(row.offer_id, []).append(row)
    ranked = sorted(
        (not prices[0].offer.is_preferred, _offered(prices), prices[0].offer_id)
        for prices in breaks.values()
    )
    found: dict[str, Sourced] = {}
    for _, micro_per_base, offer_id in ranked:
        offer = breaks[offer_id][0].offer
        sourced = _sourced(micro_per_base, "offer", offer.supplier.code)
        found.setdefault(codes[offer.item_id], sourced)
    return found


def _offered(prices: list[OfferPrice]) -> Fraction:
    offer = prices[0].offer
    steps = [(price.packs_from, price.pack_price_micro) for price in prices]
    micro = pack_price_micro(max(offer.packs_min, steps[0][0]), steps)
    assert micro is not None, "there is a price from the first break on"
    return Fraction(micro, offer.pack_base)
