"""The shop as planning sees it today: what may be taken, how things are made, how long it takes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Final

from django.db.models import F, Sum

from batches.bills.selectors.sheets import BillSheet, SheetItem, current_sheets
from batches.packing.selectors import promised_base
from batches.planning.errors import NoCurrentBillError
from batches.planning.rules.making import Recipe, Shop, StandIn, Take
from batches.runs.models import Entry
from inventory.catalog import selectors as catalog
from inventory.catalog.models import Item
from inventory.reorder.selectors.buying import offers_used
from inventory.stock.selectors.lots import usable_lots

LABOR_DAYS: Final = 400
"""Entries this young tell how long a piece takes: a year, and the same weeks of the last."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopToday:
    """What is there, by item code.

    Attributes:
        shop: What may be taken now, less what customers were promised, and how things are made.
        items: Every item that a current bill makes or takes.
        sheets: The current bills.
        usable_base: On the shelf, released and not expired, promised or not.
        promised_base: What open customer orders wait for.
    """

    shop: Shop
    items: Mapping[str, SheetItem]
    sheets: Mapping[str, BillSheet]
    usable_base: Mapping[str, int]
    promised_base: Mapping[str, int]

    def unmet(self) -> dict[str, int]:
        """Pieces that open orders wait for and that are not on the shelf, of what we make."""
        unmet = {
            code: pieces - self.usable_base.get(code, 0)
            for code, pieces in self.promised_base.items()
            if code in self.sheets and self.items[code].is_active
        }
        return {code: pieces for code, pieces in sorted(unmet.items()) if pieces > 0}

    def untimed(self, codes: Iterable[str]) -> list[str]:
        """Those of some items made of which no entry says how long it took."""
        return sorted(code for code in codes if not self.shop.recipes[code].minutes)


def shop_today(now: datetime) -> ShopToday:
    """All of it. Five statements."""
    sheets = {one.item.code: one for one in current_sheets()}
    items = {one.item.code: one.item for one in sheets.values()}
    for one in sheets.values():
        for line in one.taken:
            items[line.item.code] = line.item
            items |= {other.item.code: other.item for other in line.alternatives}
    codes = {item.id: item.code for item in items.values()}
    lots = usable_lots(item_ids=list(codes), at=now).select_related(None).order_by()
    usable = {
        codes[item_id]: int(base)
        for item_id, base in lots.values_list("item_id").annotate(base=Sum("on_hand_base"))
    }
    promised = {codes[pk]: base for pk, base in promised_base().items() if pk in codes}
    minutes = _minutes(now)
    return ShopToday(
        shop=Shop(
            stock_base={
                code: max(base - promised.get(code, 0), 0) for code, base in usable.items()
            },
            recipes={
                code: _recipe(one, minutes.get(one.item.id, Fraction(0)))
                for code, one in sheets.items()
            },
        ),
        items=items,
        sheets=sheets,
        usable_base=usable,
        promised_base=promised,
    )


def refuse_not_made(today: ShopToday, item_code: str) -> None:
    """Refuse to plan what cannot be made. At most two statements.

    Raises:
        NotFoundError: no such item.
        NotActiveError: it is out of use.
        NoCurrentBillError: no bill of it is in force.
    """
    if item_code in today.sheets and today.items[item_code].is_active:
        return
    item = catalog.item(item_code)
    catalog.refuse_out_of_use(item)
    raise no_bill(item)


def no_bill(item: Item) -> NoCurrentBillError:
    """Why an item cannot be planned: it is bought, or its bill is not released. One statement."""
    if offers_used([item.pk]):
        said = "is bought, not made. Ask for something that it goes into, or order more of it."
    else:
        said = "has no bill in force, so nothing says what it takes. Release a revision."
    return NoCurrentBillError(f"{item.code} {said}", item=item.code)


def _recipe(one: BillSheet, minutes: Fraction) -> Recipe:
    return Recipe(
        takes=tuple(
            Take(
                item=line.item.code,
                per_piece=Fraction(line.per_piece_base) / (1 - Fraction(line.loss_ratio)),
                per_batch_base=line.per_batch_base,
                stand_ins=tuple(
                    StandIn(other.item.code, Fraction(other.largest_ratio))
                    for other in line.alternatives
                ),
            )
            for line in one.taken
        ),
        scrap_ratio=Fraction(one.scrap_ratio),
        minutes=minutes,
    )


def _minutes(now: datetime) -> dict[int, Fraction]:
    """Labor minutes a piece worked on, by item id, where entries tell. One statement."""
    rows = (
        Entry.objects.filter(
            posting__reversed_by__isnull=True,
            posting__at__gte=now - timedelta(days=LABOR_DAYS),
            minutes__isnull=False,
            batch__revision__isnull=False,
        )
        .order_by()
        .values_list("batch__item_id")
        .annotate(minutes=Sum("minutes"), worked=Sum(F("good_base") + F("scrapped_base")))
    )
    return {item_id: Fraction(minutes, int(worked)) for item_id, minutes, worked in rows}
