"""What a count would change, before anybody posts it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

from django.db.models import Q, Sum

from inventory.stock.models import Lot, Movement
from inventory.stock.rules import count_difference_micro
from inventory.stock.selectors.amounts import AmountRow, Wanted, Weighed, amount_row, found_base
from shopfloor.errors import InvalidInputError
from shopfloor.money import money_text

STANDING: Final = Q(count__posting__reversed_by=None)
"""Of lines of counts, those whose count was not undone."""


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
        NotFoundError, TareAboveGrossError, UnitMismatchError, FractionOfPieceError,
            InvalidInputError: as for a count.
    """
    refuse_twice(row.lot_code for row in found)
    amounts = found_base(found)
    lots = {
        lot.code: lot
        for lot in Lot.objects.filter(code__in=[row.lot_code for row in found]).select_related(
            "item"
        )
    }
    came_in = inflows([lot for lot in lots.values() if lot.on_hand_base == 0])
    counted = [lots[row.lot_code] for row in found]
    return [
        _difference(lot, qty_base, came_in.get(lot.pk, (0, 0)))
        for lot, qty_base in zip(counted, amounts, strict=True)
    ]


def refuse_twice(lot_codes: Iterable[str]) -> None:
    """Refuse a count in which a lot stands twice."""
    twice = sorted(code for code, times in Counter(lot_codes).items() if times > 1)
    if twice:
        raise InvalidInputError("A lot stands twice in the count. Add the two up.", lots=twice)


def inflows(lots: Sequence[Lot]) -> dict[int, tuple[int, int]]:
    """What ever came into lots, by id.

    Base units and millionths of the currency. No statement for no lots.
    """
    if not lots:
        return {}
    sums = (
        Movement.objects.filter(lot__in=list(lots), qty_base__gt=0)
        .values_list("lot_id")
        .annotate(qty=Sum("qty_base"), value=Sum("value_micro"))
    )
    return {lot: (int(qty), int(value)) for lot, qty, value in sums}


def _difference(lot: Lot, qty_base: int, came_in: tuple[int, int]) -> DifferenceRow:
    item = lot.item
    value_micro = count_difference_micro(
        found_base=qty_base,
        on_hand_base=lot.on_hand_base,
        value_micro=lot.value_micro,
        inflow_base=came_in[0],
        inflow_micro=came_in[1],
    )
    expected, found, difference = (
        amount_row(qty, dimension=item.dimension, unit=item.display_unit)
        for qty in (lot.on_hand_base, qty_base, qty_base - lot.on_hand_base)
    )
    return DifferenceRow(lot.code, item.code, expected, found, difference, money_text(value_micro))
