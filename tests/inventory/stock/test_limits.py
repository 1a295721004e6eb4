"""What a lot cannot be: too much, named like a part, held by nobody."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from inventory.catalog.models import Item
from inventory.stock.models import LOT_CODE_LENGTH, Lot, Posting
from inventory.stock.operations import (
    Found,
    OpeningLot,
    adjust_lot,
    count_lots,
    revalue_lot,
    split_off,
    take_in_opening_lots,
)
from shopfloor.codes.errors import OwnCodeError
from shopfloor.errors import InvalidInputError
from shopfloor.models import User
from shopfloor.money import VALUE_MICRO_MAX
from shopfloor.numerals import NumberTooLargeError
from shopfloor.units import AMOUNT_BASE_MAX, AmountTooLargeError
from tests.inventory.stock.conftest import NOON, stamp_at


def taken_in(item: Item, by: User, qty_base: int = 1, value_micro: int = 0, **more: Any) -> Lot:
    opening = OpeningLot(item_code=item.code, qty_base=qty_base, value_micro=value_micro, **more)
    return take_in_opening_lots(lots=[opening], stamp=stamp_at(by, NOON)).made[0]


@pytest.mark.parametrize(
    ("odd", "refusal"),
    [
        ({"qty_base": 0}, InvalidInputError),
        ({"qty_base": -1}, InvalidInputError),
        ({"value_micro": -1}, InvalidInputError),
        ({"qty_base": AMOUNT_BASE_MAX + 1}, AmountTooLargeError),
        ({"value_micro": VALUE_MICRO_MAX + 1}, NumberTooLargeError),
        ({"disposition": "held"}, InvalidInputError),
        ({"grade": "third"}, InvalidInputError),
        ({"lot_code": "L-2222"}, OwnCodeError),
        ({"lot_code": "BAG.1"}, OwnCodeError),
        ({"lot_code": "A/B"}, OwnCodeError),
    ],
)
def test_a_lot_that_cannot_be_is_not_taken_in(
    hook: Item, lead: User, odd: dict[str, Any], refusal: type[Exception]
) -> None:
    with pytest.raises(refusal):
        taken_in(hook, lead, **odd)
    assert not Posting.objects.exists()


def test_no_opening_lots_are_no_posting(lead: User) -> None:
    with pytest.raises(InvalidInputError):
        take_in_opening_lots(lots=[], stamp=stamp_at(lead, NOON))


def test_the_largest_lot_is_taken_in_and_its_code_kept_in_capitals(hook: Item, lead: User) -> None:
    lot = taken_in(hook, lead, AMOUNT_BASE_MAX, VALUE_MICRO_MAX, lot_code=" bag-1a ")
    lot.refresh_from_db()
    assert (lot.code, lot.on_hand_base, lot.value_micro) == (
        "BAG-1A",
        AMOUNT_BASE_MAX,
        VALUE_MICRO_MAX,
    )


def test_a_count_or_adjustment_that_would_be_worth_more_than_any_shop_has_is_refused(
    hook: Item, lead: User
) -> None:
    dear = taken_in(hook, lead, 1, 5_000_000)
    with pytest.raises(NumberTooLargeError):
        count_lots(found=[Found(dear.code, AMOUNT_BASE_MAX)], stamp=stamp_at(lead, NOON))
    with pytest.raises(NumberTooLargeError):
        adjust_lot(lot_code=dear.code, qty_base=AMOUNT_BASE_MAX - 1, stamp=stamp_at(lead, NOON))
    with pytest.raises(NumberTooLargeError):
        revalue_lot(lot_code=dear.code, value_micro=VALUE_MICRO_MAX, stamp=stamp_at(lead, NOON))


def test_a_lot_does_not_grow_past_the_largest_amount(hook: Item, lead: User) -> None:
    lot = taken_in(hook, lead, AMOUNT_BASE_MAX - 1)
    adjust_lot(lot_code=lot.code, qty_base=1, stamp=stamp_at(lead, NOON))
    with pytest.raises(AmountTooLargeError):
        adjust_lot(lot_code=lot.code, qty_base=1, stamp=stamp_at(lead, NOON))


def test_a_part_of_a_part_of_a_part_has_a_code_that_fits(hook: Item, lead: User) -> None:
    lot = taken_in(hook, lead, 1_000)
    codes = [lot.code]
    for number in range(40):
        stamp = stamp_at(lead, NOON + timedelta(minutes=number))
        codes.append(split_off(lot_code=codes[-1], qty_base=900 - number, stamp=stamp).code)
    assert len(set(codes)) == 41
    assert max(map(len, codes)) <= LOT_CODE_LENGTH
    assert codes[1:3] == [f"{lot.code}.1", f"{lot.code}.1.1"]
