"""Everything at risk in a few sentences."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from batches.recall.selectors.scope import BalanceRow, LotRow

if TYPE_CHECKING:
    from batches.recall.selectors.cases import CustomerRow, LetterRow


def in_short(
    *,
    items: Sequence[BalanceRow],
    customers: Sequence[CustomerRow],
    letters: Sequence[LetterRow],
    lots: Sequence[LotRow],
) -> str:
    """What is still out, of all that was sold, whatever the item; and how many lots are here."""
    sold = {row.item for row in letters}
    balances = [row for row in items if row.item in sold]

    def sum_of(name: str) -> str:
        return f"{sum(Decimal(getattr(row, name).amount) for row in balances):,f}"

    out = sum(Decimal(row.outstanding.amount) for row in customers)
    count = len({row.customer for row in customers})
    stopped = sum(1 for row in lots if Decimal(row.balance.stopped.amount))
    free = sum(1 for row in lots if Decimal(row.balance.free.amount))
    return (
        f"{out:,f} pieces are still with customers. Lots that are here: {stopped:,} stopped, "
        f"{free:,} free. Of {len(balances)} items at risk that were sold, {sum_of('made')} were "
        f"made, {sum_of('shipped')} shipped to {count} customers with "
        f"{len({row.shipment for row in letters})} shipments, {sum_of('returned')} returned, "
        f"{sum_of('disposed')} disposed of; {sum_of('free')} are on hand free and "
        f"{sum_of('stopped')} stopped; {sum_of('unexplained')} are unexplained."
    )
