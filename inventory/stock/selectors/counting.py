"""What a count would change, before anybody posts it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from inventory.stock.models import Lot, Movement
from inventory.stock.rules import count_difference_micro
from inventory.stock.selectors.amounts import AmountRow, Wanted, Weighed, amount_row, found_base
from shopfloor.money import money_text


class DifferenceRow(NamedTuple):
    """One lot of a count that is not posted yet."""

    lot: str
    item: str
    expected: AmountRow
    found: AmountRow
    difference: AmountRow
    value: str


def count_preview(found: Sequence[Wanted | Weighed]) -> list[DifferenceRow]:
    """What posting this count would change now. Three statements.

    Raises:
        NotFoundError, TareAboveGrossError, UnitMismatchError, FractionOfPieceError: as for a count.
    """
    amounts = found_base(found)
    lots = {
        lot.code: lot
        for lot in Lot.objects.filter(code__in=[row.lot_code for row in found]).select_related(
            "item"
        )
    }
    return [
        _difference(lots[row.lot_code], qty_base)
        for row, qty_base in zip(found, amounts, strict=True)
    ]


def _difference(lot: Lot, qty_base: int) -> DifferenceRow:
    item = lot.item
    came_in = list(
        Movement.objects.filter(lot=lot, qty_base__gt=0).values_list("qty_base", "value_micro")
        if lot.on_hand_base == 0
        else ()
    )
    value_micro = count_difference_micro(
        found_base=qty_base,
        on_hand_base=lot.on_hand_base,
        value_micro=lot.value_micro,
        inflow_base=sum(qty for qty, _ in came_in),
        inflow_micro=sum(value for _, value in came_in),
    )
    expected, found, difference = (
        amount_row(qty, dimension=item.dimension, unit=item.display_unit)
        for qty in (lot.on_hand_base, qty_base, qty_base - lot.on_hand_base)
    )
    return DifferenceRow(lot.code, item.code, expected, found, difference, money_text(value_micro))
