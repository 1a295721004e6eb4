"""The rows of the list of lots are those that a single lot shows, made another way."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from inventory.catalog.models import Item, Place
from inventory.stock.models import Lot
from inventory.stock.operations import OpeningLot, open_lot, split_off, take_in_opening_lots
from inventory.stock.selectors.listed import lot_numbers, lots_json
from inventory.stock.selectors.lots import as_json, lot_row, lots
from shopfloor.models import User
from shopfloor.units import AMOUNT_BASE_MAX, UNITS, Measure, from_base, own_text
from tests.inventory.stock.conftest import NOON, stamp_at


def test_a_row_says_what_the_lot_itself_says(
    hook: Item, adhesive: Item, bench: Place, lead: User, django_assert_num_queries: Any
) -> None:
    odd = NOON.replace(microsecond=123_000) - timedelta(hours=5)
    bottle = OpeningLot(
        item_code=adhesive.code, qty_base=1_234_567, value_micro=7_650_001, lot_code="BOTTLE"
    )
    hooks = OpeningLot(item_code=hook.code, qty_base=25, value_micro=0, owner="Somebody else")
    take_in_opening_lots(lots=[bottle, hooks], stamp=stamp_at(lead, odd))
    split_off(lot_code="BOTTLE", qty_base=200, place_code=bench.code, stamp=stamp_at(lead, NOON))
    open_lot(lot_code="BOTTLE", stamp=stamp_at(lead, NOON))
    shown = {row["id"]: as_json(lot_row(row)) for row in lots()}
    backwards = list(lot_numbers().order_by("-pk"))
    with django_assert_num_queries(1):
        rows = lots_json(backwards)
    assert rows == [shown[number] for number in backwards]
    assert len({row["born_at"] for row in rows}) == 2
    assert len(rows) == Lot.objects.count() == 3


def test_no_lots_take_no_statement(django_assert_num_queries: Any, db: None) -> None:
    with django_assert_num_queries(0):
        assert lots_json([]) == []


@given(st.integers(-AMOUNT_BASE_MAX, AMOUNT_BASE_MAX), st.sampled_from(sorted(UNITS)))
def test_the_digits_are_those_of_the_one_conversion(qty_base: int, unit: str) -> None:
    exact = from_base(qty_base=qty_base, unit=unit, item=Measure(dimension=UNITS[unit].dimension))
    assert own_text(qty_base, unit) == f"{exact:f}"
