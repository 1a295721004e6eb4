"""Short ways to hold and use things up through the ledger, and to look at the list."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from inventory.catalog.models import Item
from inventory.catalog.operations import create_offer
from inventory.catalog.steps import PriceBreak
from inventory.reorder.operations import set_reorder_policy
from inventory.reorder.selectors import ReorderPage, ReorderRow, reorder_list, reorder_page
from inventory.stock.models import OutsideKind, Posting, PostingKind
from inventory.stock.operations import OpeningLot, take_in_opening_lots
from inventory.stock.steps import Make, lock_lots, post, reverse_posting, take
from shopfloor.fields import Amount
from shopfloor.models import User
from shopfloor.operation import operation
from shopfloor.stamp import Stamp
from tests.inventory.conftest import NOON, stamp_at

ZONE = ZoneInfo("America/Chicago")

FIRST_DAY = date(2026, 3, 2)
TODAY = date(2026, 4, 1)
"""Thirty whole days after the first."""

HUNDRED_A_DAY = [90, 110] * 15
A_THOUSAND = Amount(Decimal(1000), "each")


def shop_time(day: date, hour: int, minute: int = 0) -> datetime:
    return datetime(day.year, day.month, day.day, hour, minute, tzinfo=ZONE)


@operation
def use_up(*, lot_code: str, qty_base: int, stamp: Stamp) -> Posting:
    """Take an amount to make something of which no piece was good: all of it is lost."""
    lot = lock_lots([lot_code])[lot_code]
    return post(
        kind=PostingKind.MADE,
        stamp=stamp,
        changes=[take(lot, qty_base)],
        outside_kind=OutsideKind.LOSS,
    ).posting


@operation
def mix(*, lot_codes: Sequence[str], into_code: str, into: Item, stamp: Stamp) -> Posting:
    """Mix whole lots into a new lot, of the same item or of another."""
    lots = list(lock_lots(lot_codes).values())
    changes = [take(lot, lot.on_hand_base) for lot in lots]
    made = Make(
        item_id=into.pk,
        place_id=lots[0].place_id,
        qty_base=-sum(change.qty_base for change in changes),
        value_micro=-sum(change.value_micro for change in changes),
        code=into_code,
    )
    return post(kind=PostingKind.MIXED, stamp=stamp, changes=changes, makes=[made]).posting


@operation
def undo(*, posting: Posting, stamp: Stamp) -> None:
    reverse_posting(posting, stamp)


def hold_lot_of(
    by: User, qty_base: int, *, code: str = "LOT", item: str = "HOOK-6", at: datetime
) -> str:
    """An opening lot; its code."""
    lot = OpeningLot(item_code=item, qty_base=qty_base, value_micro=qty_base, lot_code=code)
    take_in_opening_lots(lots=[lot], stamp=stamp_at(by, at))
    return code


def use(by: User, qty_base: int, at: datetime, *, lot: str = "LOT") -> Posting:
    return use_up(lot_code=lot, qty_base=qty_base, stamp=stamp_at(by, at))


def use_every_day(
    by: User, amounts: Sequence[int], *, lot: str = "LOT", first: date = FIRST_DAY
) -> None:
    """One amount a day at one in the afternoon; 0 is a day without use."""
    for number, qty_base in enumerate(amounts):
        if qty_base:
            use(by, qty_base, shop_time(first + timedelta(days=number), 13), lot=lot)


def hooks_used_daily(by: User, on_hand: int) -> None:
    """Hooks of which 100 a day were used on each of thirty days, and so many are left."""
    hold_lot_of(by, on_hand + sum(HUNDRED_A_DAY), at=NOON)
    use_every_day(by, HUNDRED_A_DAY)


def set_policy(by: User, item: str = "HOOK-6", **fields: Any) -> None:
    policy: Any = fields
    set_reorder_policy(item_code=item, fields=policy, by=by, at=NOON)


def offer_hooks(
    by: User, supplier: str, *, price_micro: int | None, pack: int = 1000, packs_min: int = 1
) -> None:
    prices = [] if price_micro is None else [PriceBreak(1, price_micro)]
    create_offer(
        supplier_code=supplier,
        item_code="HOOK-6",
        pack=Amount(Decimal(pack), "each"),
        fields={"packs_min": packs_min, "prices": prices},
        by=by,
        at=NOON,
    )


def row_of(item: str, *, on: date = TODAY) -> ReorderRow:
    """The item's line in the list."""
    return {row.item.code: row for row in reorder_list(on=on)}[item]


def page_of(item: str = "HOOK-6", *, on: date = TODAY, window_days: int = 365) -> ReorderPage:
    return reorder_page(code=item, on=on, window_days=window_days)


def used_on(page: ReorderPage) -> dict[str, int]:
    """What was used, by day."""
    return {each.day.isoformat(): each.qty_base for each in page.used}
