"""An import of what people wrote down: one event, whole or not at all."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from batches.exchange.models import Import
from batches.exchange.rules.reading import Reading
from batches.exchange.selectors.checking import CheckedSheets, checked, refuse_imported_before
from batches.exchange.steps.happening import post_happenings
from batches.exchange.steps.lots import post_opening
from batches.exchange.steps.orders import post_customer_orders, post_supplier_orders
from batches.exchange.steps.recording import record_import
from batches.exchange.steps.rowing import Importing
from batches.exchange.steps.standing import post_standing
from shopfloor.models import User
from shopfloor.operation import operation


@operation
def import_sheets(
    *, sheets: CheckedSheets, by: User, now: datetime, on_rows: Callable[[int], None]
) -> Import:
    """Post everything that checked sheets say.

    Args:
        sheets: From `checked_sheets`; the shop may have changed since, which posting finds out.
        by: Who imports.
        now: Recorded time of all of it.
        on_rows: Told the number of rows that were just posted; writes nothing.

    Raises:
        ImportRefusedError: a row cannot be posted; it names the row.
    """
    refuse_imported_before(sheets.sources)
    return _post(Importing(sheets=sheets, by=by, now=now, on_rows=on_rows))


@operation
def import_reading(*, reading: Reading, by: User, now: datetime) -> Import:
    """Check what was read and post it, so that a request sent twice is not refused as one.

    Args:
        reading: From `read_sheets`.
        by: Who imports.
        now: Recorded time of all of it.

    Raises:
        ImportRefusedError: with every problem found, or the row that cannot be posted.
    """
    sheets = checked(reading)
    return _post(Importing(sheets=sheets, by=by, now=now, on_rows=lambda _: None))


def _post(importing: Importing) -> Import:
    kept = record_import(importing.sheets, by=importing.by, at=importing.now)
    post_standing(importing)
    post_opening(importing)
    post_supplier_orders(importing)
    post_customer_orders(importing)
    post_happenings(importing)
    return kept
