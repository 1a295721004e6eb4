"""Shelf labels and count sheets: places, and items where they are kept."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime

from batches.labels.rules.papers_stock import CountLine, CountSheet, ShelfLabel
from batches.labels.selectors.asked import in_order
from batches.labels.selectors.moments import minute_text
from inventory.catalog.models import Item, Place
from inventory.catalog.selectors import measure_of
from inventory.reorder.models import ReorderPolicy
from inventory.stock.models import Lot
from inventory.stock.selectors.among import Among, AmongCodes
from shopfloor.units import UNITS, display

LOOK = "Look it up in the list."


def place_labels(codes: Sequence[str]) -> list[ShelfLabel]:
    """Places, in the order asked. One statement.

    Raises:
        NotFoundError: naming all codes that no place has.
    """
    rows = Place.objects.filter(AmongCodes("code", codes))
    places = in_order({place.code: place for place in rows}, codes, noun="place", look=LOOK)
    return [ShelfLabel(code=place.code, name=place.name) for place in places]


def item_labels(codes: Sequence[str]) -> list[ShelfLabel]:
    """Items at their places, in the order asked. Two statements.

    Raises:
        NotFoundError: naming all codes that no item has.
    """
    rows = Item.objects.select_related("storage_place").filter(AmongCodes("code", codes))
    items = in_order({item.code: item for item in rows}, codes, noun="item", look=LOOK)
    points = _reorder_points(item.pk for item in items)
    return [
        ShelfLabel(
            code=item.code,
            name=item.name,
            place="" if item.storage_place is None else item.storage_place.code,
            hint=_hint(item, points.get(item.pk)),
        )
        for item in items
    ]


def _reorder_points(item_ids: Iterable[int]) -> dict[int, int | None]:
    """Points that somebody set by hand, by id of the item.

    One that is computed moves with the use of the item; on a label it would soon be wrong.
    """
    policies = ReorderPolicy.objects.filter(Among("item", set(item_ids)), is_watched=True)
    return dict(policies.values_list("item_id", "reorder_point_base"))


def _hint(item: Item, point_base: int | None) -> str:
    if point_base is None:
        return ""
    return f"Reorder at {display(point_base, item.display_unit, measure_of(item))}"


def count_sheets(codes: Sequence[str], *, at: datetime) -> list[CountSheet]:
    """What to count at places, and of items, in the order asked. Four statements at most.

    A code that a place and an item both have is the place's. Lots that hold nothing by the books
    are not on it: there is room to write what is found beyond it.

    Args:
        codes: Of places and items.
        at: When the lots are read.

    Raises:
        NotFoundError: naming all codes that neither a place nor an item has.
    """
    places = {place.code: place for place in Place.objects.filter(AmongCodes("code", codes))}
    rest = [code for code in codes if code not in places]
    items = {
        item.code: item for item in (Item.objects.filter(AmongCodes("code", rest)) if rest else ())
    }
    found: dict[str, Place | Item] = {**items, **places}
    wanted = in_order(found, codes, noun="place or item", look=LOOK)
    at_place = _lines("place", {place.pk for place in places.values()})
    of_item = _lines("item", {item.pk for item in items.values()})
    return [
        CountSheet(
            code=each.code,
            kind="place" if isinstance(each, Place) else "item",
            name=each.name,
            printed_at=minute_text(at),
            lines=tuple((at_place if isinstance(each, Place) else of_item)[each.pk]),
        )
        for each in wanted
    ]


def _lines(column: str, ids: set[int]) -> dict[int, list[CountLine]]:
    """Lots on hand by id of their place or item; of one item together, oldest first.

    One statement; none for no ids.
    """
    found: dict[int, list[CountLine]] = defaultdict(list)
    if not ids:
        return found
    lots = Lot.objects.filter(Among(column, ids), on_hand_base__gt=0)
    for lot in lots.select_related("item", "place").order_by("item__code", "place__code", "pk"):
        line = CountLine(
            lot=lot.code,
            item=lot.item.code,
            item_name=lot.item.name,
            unit=UNITS[lot.item.display_unit].label,
            place=lot.place.code if column == "item" else "",
        )
        found[getattr(lot, f"{column}_id")].append(line)
    return found
