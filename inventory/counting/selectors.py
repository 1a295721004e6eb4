"""What to count today and on the days to come, and how right the records were."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Final, NamedTuple

from django.db.models import Max, OuterRef, Subquery, Sum

from inventory.catalog.models import Item, ItemKind
from inventory.counting.rules import (
    CLASSES,
    TOLERANCE,
    WORKING_DAYS,
    Class,
    Turn,
    a_day,
    accuracy,
    calendar,
    classes,
    due_on,
    is_right,
)
from inventory.stock.models import CountLine, Lot, Movement, PostingKind
from inventory.stock.selectors.amounts import AmountRow, amount_of
from inventory.stock.selectors.counting import STANDING
from shopfloor.days import day_end, day_start, shop_day
from shopfloor.money import money_text

USED_DAYS: Final = 365
"""A year, so that every season counts once."""

USING_KINDS: Final = (PostingKind.MADE, PostingKind.MIXED, PostingKind.SHIPPED)
"""What is used up or sold is used; what was disposed of or counted away is not."""

KINDS: Final = ItemKind.choices


@dataclass(frozen=True, slots=True, kw_only=True)
class CountTurn:
    """An item on the shelf, and when it is to be counted.

    Attributes:
        share: Of the value used in a year, all items together, 0 to 1.
        lots: How many of ours hold something.
        since_on: The day its longest unseen lot was counted or came in.
        counted_on: Its last count, of any lot; None: never.
        planned_on: The working day to count it.
    """

    item: Item
    abc: Class
    value_used_micro: int
    share: Fraction
    on_hand_base: int
    lots: int
    since_on: date
    counted_on: date | None
    planned_on: date
    is_due: bool


class ClassRow(NamedTuple):
    """One class, or all of them.

    Attributes:
        a_day: Items to count on a working day.
        tolerance: Share of the record that a count may be off.
        lines: Lots counted in the days asked for.
        accuracy: Share of them within the tolerance; None where none was counted.
        net_value: What counts added, less what they took away.
        gross_value: Both together.
    """

    abc: str
    items: int
    value_used: str
    working_days: int | None
    a_day: str
    tolerance: str | None
    lines: int
    right: int
    accuracy: str | None
    net_value: str
    gross_value: str


class _OnShelf(NamedTuple):
    """An item's lots on hand."""

    base: int
    lots: int
    seen_at: datetime


def count_turns(*, on: date) -> list[CountTurn]:
    """Every item of which we hold something, in the order to count. Four statements.

    An item's turn comes when its longest unseen lot has waited for so long; a lot that came in is
    taken to have been seen then.

    Args:
        on: Today, the shop's day.
    """
    shelf = _on_shelf()
    used = _value_used(on)
    items = {item.pk: item for item in Item.objects.filter(pk__in=list(shelf))}
    abc = _classes(used, shelf)
    counted = _counted_on(list(shelf))
    since = {pk: shop_day(row.seen_at) for pk, row in shelf.items()}
    planned = calendar(
        (Turn(pk, abc[pk], due_on(since[pk], abc[pk]) if pk in counted else None) for pk in shelf),
        today=on,
    )
    whole = sum(used.values())
    turns = [
        CountTurn(
            item=items[pk],
            abc=abc[pk],
            value_used_micro=used.get(pk, 0),
            share=Fraction(used.get(pk, 0), whole) if whole else Fraction(0),
            on_hand_base=row.base,
            lots=row.lots,
            since_on=since[pk],
            counted_on=counted.get(pk),
            planned_on=planned[pk],
            is_due=planned[pk] <= on,
        )
        for pk, row in shelf.items()
    ]
    return sorted(turns, key=lambda turn: (turn.planned_on, turn.abc, turn.item.code))


def selected(
    turns: Sequence[CountTurn],
    *,
    abc: str = "",
    kind: str = "",
    is_due: bool | None = None,
    search: str = "",
) -> list[CountTurn]:
    """Those that fit all that is asked for; `search`: words in the item's code or name."""
    words = search.casefold().split()
    return [
        turn
        for turn in turns
        if (not abc or turn.abc == abc)
        and (not kind or turn.item.kind == kind)
        and (is_due is None or turn.is_due == is_due)
        and all(word in f"{turn.item.code} {turn.item.name}".casefold() for word in words)
    ]


def class_rows(*, on: date, first_on: date, last_on: date) -> list[ClassRow]:
    """The classes, and all together at the end. Three statements.

    Each lot counted is a record: pieces in the wrong lot are wrong, even if the item's sum is
    right.

    Args:
        on: Today, the shop's day: classes are of the year before it.
        first_on: First day whose counts are looked at.
        last_on: Last of them.
    """
    shelf, used = _on_shelf(), _value_used(on)
    abc = _classes(used, shelf)
    lines: dict[Class, list[tuple[bool, int]]] = defaultdict(list)
    for item, expected, found, value in _counted(first_on, last_on):
        each = abc.get(item, "C")
        hit = is_right(expected_base=expected, found_base=found, abc=each)
        lines[each].append((hit, value or 0))
    counts = Counter(abc[item] for item in shelf)
    values: Counter[Class] = Counter()
    for item, value in used.items():
        values[abc[item]] += value
    per_day = a_day(counts)
    rows = [
        _class_row(
            each,
            counts[each],
            values[each],
            per_day[each],
            lines[each],
            working_days=WORKING_DAYS[each],
            tolerance=TOLERANCE[each],
        )
        for each in CLASSES
    ]
    every = [line for each in CLASSES for line in lines[each]]
    total = sum(per_day.values(), Fraction(0))
    return [*rows, _class_row("", counts.total(), values.total(), total, every)]


def shown(turn: CountTurn) -> AmountRow:
    """What we hold of it, for people."""
    return amount_of(turn.item, turn.on_hand_base)


def _classes(used: Mapping[int, int], shelf: Mapping[int, _OnShelf]) -> dict[int, Class]:
    return classes({**dict.fromkeys(shelf, 0), **used})


def _class_row(
    abc: str,
    items: int,
    value: int,
    per_day: Fraction,
    lines: Sequence[tuple[bool, int]],
    *,
    working_days: int | None = None,
    tolerance: Fraction | None = None,
) -> ClassRow:
    share = accuracy([hit for hit, _ in lines])
    return ClassRow(
        abc=abc,
        items=items,
        value_used=money_text(value),
        working_days=working_days,
        a_day=_number(per_day),
        tolerance=None if tolerance is None else _number(tolerance),
        lines=len(lines),
        right=sum(hit for hit, _ in lines),
        accuracy=None if share is None else _number(share),
        net_value=money_text(sum(each for _, each in lines)),
        gross_value=money_text(sum(abs(each) for _, each in lines)),
    )


def _number(number: Fraction) -> str:
    return f"{Decimal(round(number * 10_000)) / 10_000:f}"


def _on_shelf() -> dict[int, _OnShelf]:
    """Our lots that hold something, by item id. One statement."""
    counted_at = (
        CountLine.objects.filter(STANDING, lot=OuterRef("pk"))
        .order_by()
        .values("lot")
        .annotate(last=Max("count__at"))
        .values("last")
    )
    rows = (
        Lot.objects.filter(on_hand_base__gt=0, owner="")
        .order_by()
        .annotate(counted_at=Subquery(counted_at))
        .values_list("item_id", "on_hand_base", "born_at", "counted_at")
    )
    found: dict[int, _OnShelf] = {}
    for item_id, base, born_at, counted in rows:
        seen_at = born_at if counted is None else max(born_at, counted)
        before = found.get(item_id, _OnShelf(0, 0, seen_at))
        found[item_id] = _OnShelf(before.base + base, before.lots + 1, min(before.seen_at, seen_at))
    return found


def _counted_on(item_ids: Sequence[int]) -> dict[int, date]:
    """The day of the last count of any lot of an item, by item id. One statement."""
    rows = (
        CountLine.objects.filter(STANDING, lot__item__in=item_ids)
        .order_by()
        .values_list("lot__item_id")
        .annotate(last=Max("count__at"))
    )
    return {item_id: shop_day(last) for item_id, last in rows}


def _value_used(on: date) -> dict[int, int]:
    """Millionths of the currency used or sold in the year before today, by item. One statement.

    What is mixed into a lot of the same item counts as used.
    """
    rows = (
        Movement.objects.filter(
            posting__kind__in=USING_KINDS,
            posting__reversed_by__isnull=True,
            posting__at__gte=day_start(on - timedelta(days=USED_DAYS)),
            posting__at__lt=day_start(on),
            qty_base__lt=0,
            lot__owner="",
        )
        .order_by()
        .values_list("lot__item_id")
        .annotate(value=Sum("value_micro"))
    )
    return {item_id: -int(value) for item_id, value in rows}


def _counted(first_on: date, last_on: date) -> list[tuple[int, int, int, int | None]]:
    """Item, record, find and value of the difference, of lots counted. One statement."""
    value = Movement.objects.filter(posting=OuterRef("count__posting"), lot=OuterRef("lot"))
    return list(
        CountLine.objects.filter(
            STANDING,
            count__at__gte=day_start(first_on),
            count__at__lte=day_end(last_on),
        )
        .annotate(value=Subquery(value.order_by().values("value_micro")[:1]))
        .values_list("lot__item_id", "expected_base", "found_base", "value")
    )
