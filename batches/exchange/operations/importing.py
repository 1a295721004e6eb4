"""An import of what people wrote down: one event, whole or not at all."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from batches.exchange.selectors.checking import CheckedSheets
from batches.exchange.steps.happening import post_happenings
from batches.exchange.steps.lots import post_opening
from batches.exchange.steps.orders import post_customer_orders, post_supplier_orders
from batches.exchange.steps.rowing import Importing
from batches.exchange.steps.standing import post_standing
from shopfloor.models import User
from shopfloor.operation import operation


@operation
def import_sheets(
    *, sheets: CheckedSheets, by: User, now: datetime, on_rows: Callable[[int], None]
) -> None:
    """Post everything that checked sheets say.

    Args:
        sheets: From `checked_sheets`; the shop may have changed since, which posting finds out.
        by: Who imports.
        now: Recorded time of all of it.
        on_rows: Told the number of rows that were just posted; writes nothing.

    Raises:
        ImportRefusedError: a row cannot be posted; it names the row.
    """
    importing = Importing(sheets=sheets, by=by, now=now, on_rows=on_rows)
    post_standing(importing)
    post_opening(importing)
    post_supplier_orders(importing)
    post_customer_orders(importing)
    post_happenings(importing)
