"""Which lines of the reorder list are wanted, and in which order.

The list is computed, so this is not done by the database: no query.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Any, Final

from inventory.reorder.selectors.rows import ReorderRow


def _urgency(row: ReorderRow) -> tuple[bool, float, bool, float, str]:
    days_left = row.days_left
    if days_left is None:
        days_left = 0 if row.is_due else None
    return (
        not row.is_due,
        math.inf if days_left is None else days_left,
        row.advice is not None,
        math.inf if row.cover_days is None else row.cover_days,
        row.item.code,
    )


ORDERS: Final[Mapping[str, Callable[[ReorderRow], Any]]] = MappingProxyType(
    {
        "urgency": _urgency,
        "item": lambda row: row.item.code,
        "name": lambda row: row.item.name.casefold(),
        "kind": lambda row: row.item.kind,
        "supplier": lambda row: row.offer.supplier.code if row.offer else None,
        "order_by": lambda row: row.order_by,
        "suggested_value": lambda row: row.suggested_value_micro,
    }
)
"""What lines can be ordered by; lines without it come last, whichever way."""


def by_urgency(rows: Iterable[ReorderRow]) -> list[ReorderRow]:
    """Due first, then fewest days left to order, then what lasts the least."""
    return sorted(rows, key=_urgency)


def selected(
    rows: Iterable[ReorderRow],
    *,
    is_due: bool | None = None,
    has_advice: bool | None = None,
    supplier: str = "",
    kind: str = "",
    search: str = "",
) -> list[ReorderRow]:
    """The lines that fit all that is asked for.

    Args:
        rows: Any.
        is_due: Due, or not.
        has_advice: With advice, or those that a person must look into.
        supplier: Code of the supplier it would be ordered from.
        kind: Of the item.
        search: Words that each stand in the item's code or name.
    """
    words = search.casefold().split()

    def fits(row: ReorderRow) -> bool:
        text = f"{row.item.code} {row.item.name}".casefold()
        return (
            (is_due is None or row.is_due == is_due)
            and (has_advice is None or (row.advice is not None) == has_advice)
            and (not supplier or (row.offer is not None and row.offer.supplier.code == supplier))
            and (not kind or row.item.kind == kind)
            and all(word in text for word in words)
        )

    return [row for row in rows if fits(row)]


def ordered(rows: Iterable[ReorderRow], names: Sequence[str]) -> list[ReorderRow]:
    """Lines ordered by names of `ORDERS`, a minus turning one round; equals stay as they stood."""
    found = list(rows)
    for name in reversed(names):
        key = ORDERS[name.removeprefix("-")]
        known = [row for row in found if key(row) is not None]
        unknown = [row for row in found if key(row) is None]
        found = sorted(known, key=key, reverse=name.startswith("-")) + unknown
    return found
