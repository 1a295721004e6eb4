"""Reads of what to reorder; each states its queries."""

from inventory.catalog.models import ItemKind
from inventory.reorder.selectors.advice import (
    NOTHING_PROMISED,
    WINDOW_DAYS_DEFAULT,
    reorder_list,
    reorder_page,
    reorder_row,
)
from inventory.reorder.selectors.listing import ORDERS, by_urgency, ordered, selected
from inventory.reorder.selectors.rows import ReorderPage, ReorderRow, UseOfDay
from inventory.reorder.selectors.words import in_short, why

ITEM_KINDS = ItemKind.choices

__all__ = [
    "ITEM_KINDS",
    "NOTHING_PROMISED",
    "ORDERS",
    "WINDOW_DAYS_DEFAULT",
    "ReorderPage",
    "ReorderRow",
    "UseOfDay",
    "by_urgency",
    "in_short",
    "ordered",
    "reorder_list",
    "reorder_page",
    "reorder_row",
    "selected",
    "why",
]
