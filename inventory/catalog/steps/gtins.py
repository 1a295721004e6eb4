"""GTINs of the shop's own prefix: one an item, never given twice."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from django.conf import settings

from inventory.catalog.errors import GtinNotOursError
from inventory.catalog.models import Item, ItemGtin
from inventory.catalog.selectors import item as item_named
from inventory.catalog.selectors import refuse_out_of_use
from inventory.catalog.steps.items import edit_item
from inventory.catalog.steps.rows import lock_row
from shopfloor.codes.errors import NoPrefixError
from shopfloor.codes.gs1.numbers import CompanyPrefix, carton_gtin
from shopfloor.models import User
from shopfloor.turns import lock_tables


class GtinAsk(NamedTuple):
    """An item that wants a GTIN.

    Attributes:
        item_code: Its code.
        carton_of: Code of the item that it is a carton of; empty: an article of its own.
    """

    item_code: str
    carton_of: str = ""


def allot_gtins(asks: Sequence[GtinAsk], *, by: User, at: datetime) -> list[Item]:
    """Give each item a GTIN that has none, or the one it was given before; the items, as asked.

    Raises:
        NoPrefixError: the shop has no company prefix.
        NotFoundError, NotActiveError: no such item, or it is out of use.
        GtinNotOursError: a carton of an item without a GTIN of the prefix.
        Gs1NumberError: no number is left.
        DuplicateGtinError: somebody typed the number at the same moment.
    """
    if not settings.SHOP_GS1_PREFIX:
        raise NoPrefixError(
            "A GTIN begins with a company prefix that GS1 licenses. Put yours into"
            " SHOP_GS1_PREFIX; without one the shop's own codes name its items."
        )
    prefix = CompanyPrefix(settings.SHOP_GS1_PREFIX)
    lock_tables([ItemGtin], "SHARE ROW EXCLUSIVE")  # of two at once, the second sees the first's
    return [_with_gtin(ask, prefix, by=by, at=at) for ask in asks]


def _with_gtin(ask: GtinAsk, prefix: CompanyPrefix, *, by: User, at: datetime) -> Item:
    item = lock_row(Item, ask.item_code)
    refuse_out_of_use(item)
    if item.gtin:
        return item
    given = ItemGtin.objects.filter(item=item).first()
    if given is None:
        given = ItemGtin(item=item, gtin=_number(ask, prefix), by=by, recorded_at=at)
        given.save(force_insert=True)
    return edit_item(code=item.code, fields={"gtin": given.gtin}, by=by, at=at)


def _number(ask: GtinAsk, prefix: CompanyPrefix) -> str:
    """A number that no item has or was ever given. Two statements, three for a carton."""
    taken = {
        *Item.objects.exclude(gtin="").values_list("gtin", flat=True),
        *ItemGtin.objects.values_list("gtin", flat=True),
    }
    if not ask.carton_of:
        return prefix.free_gtin(taken)
    within = item_named(ask.carton_of)
    if not within.gtin.startswith(f"0{prefix.digits}"):
        raise GtinNotOursError(
            f"{within.code} has no GTIN of the shop's own prefix {prefix.digits}, so a carton of it"
            " cannot have one made of it. Give it one first; a maker's carton has the maker's.",
            item=within.code,
            gtin=within.gtin,
        )
    return carton_gtin(within.gtin, taken)
