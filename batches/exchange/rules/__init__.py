"""What the sheets of an import are, and how a cell of one is read. No files, no database."""

from __future__ import annotations

from typing import Final

from batches.exchange.rules.happened import (
    BOXES,
    CHECKS,
    COMPLAINTS,
    CUSTOMER_ORDERS,
    LOT_EVENTS,
    RECEIPTS,
    RETURNS,
    RUNS,
    SHIPMENTS,
    SUPPLIER_ORDERS,
)
from batches.exchange.rules.sheets import Sheet
from batches.exchange.rules.standing import (
    BILLS,
    CHECK_DEFINITIONS,
    COLORWAYS,
    CUSTOMERS,
    EQUIPMENT,
    ITEMS,
    MODELS,
    OFFERS,
    OPENING_LOTS,
    PEOPLE,
    PLACES,
    SCRAP_REASONS,
    STAGES,
    SUPPLIERS,
)

SHEETS: Final[tuple[Sheet, ...]] = (
    PEOPLE,
    MODELS,
    COLORWAYS,
    PLACES,
    EQUIPMENT,
    SUPPLIERS,
    ITEMS,
    OFFERS,
    STAGES,
    SCRAP_REASONS,
    CHECK_DEFINITIONS,
    CUSTOMERS,
    BILLS,
    OPENING_LOTS,
    SUPPLIER_ORDERS,
    CUSTOMER_ORDERS,
    RECEIPTS,
    LOT_EVENTS,
    RUNS,
    CHECKS,
    BOXES,
    SHIPMENTS,
    COMPLAINTS,
    RETURNS,
)
"""Every sheet there is, in the order in which they are posted; the last eight by time."""
