"""A count that was wrong is undone, wholly, and is no count any more."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.catalog.models import Place
from inventory.stock.errors import NotReversibleError
from inventory.stock.models import Lot
from inventory.stock.operations import (
    Found,
    count_lots,
    dispose_of_lot,
    move_lot,
    reverse_count,
)
from shopfloor.models import User
from shopfloor.stamp import ReasonMissingError, Stamp
from tests.inventory.stock.conftest import LATER, NOON, stamp_at
from tests.inventory.stock.test_operations import moved


def test_an_undone_count_puts_amount_and_value_back_and_is_no_count_any_more(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    counted_at = NOON + timedelta(hours=2)
    count = count_lots(found=[Found(lot_of_500_hooks.code, 2)], stamp=stamp_at(lead, counted_at))
    undone = stamp_at(lead, counted_at + timedelta(minutes=1))
    reverse_count(count_code=count.code, stamp=undone)
    assert moved(lot_of_500_hooks)[1:] == [(-498, -9_960_000), (498, 9_960_000)]
    # Nothing was found then, so what happened before may still be written down.
    dispose_of_lot(
        lot_code=lot_of_500_hooks.code,
        qty_base=1,
        stamp=stamp_at(lead, counted_at - timedelta(seconds=1)),
    )
    with pytest.raises(NotReversibleError):
        reverse_count(count_code=count.code, stamp=undone)


def test_a_count_that_found_more_of_a_lot_that_had_moved_is_undone_where_it_stands(
    lot_of_500_hooks: Lot, bench: Place, lead: User
) -> None:
    move_lot(lot_code=lot_of_500_hooks.code, place_code="BENCH", stamp=stamp_at(lead, NOON))
    later = stamp_at(lead, NOON + timedelta(hours=1))
    count = count_lots(found=[Found(lot_of_500_hooks.code, 503)], stamp=later)
    reverse_count(count_code=count.code, stamp=later)
    lot_of_500_hooks.refresh_from_db()
    assert (lot_of_500_hooks.on_hand_base, lot_of_500_hooks.place) == (500, bench)
    still_later = stamp_at(lead, NOON + timedelta(hours=2))
    again = count_lots(found=[Found(lot_of_500_hooks.code, 501)], stamp=still_later)
    at_last = Stamp(by=lead, at=LATER, now=LATER + timedelta(hours=1), reason="for the test")
    move_lot(lot_code=lot_of_500_hooks.code, place_code="SHELF-A", stamp=at_last)
    with pytest.raises(NotReversibleError, match="moved or boxed since"):
        reverse_count(count_code=again.code, stamp=at_last)


def test_a_count_is_not_undone_behind_another_nor_one_that_changed_nothing(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    count = count_lots(found=[Found(lot_of_500_hooks.code, 497)], stamp=stamp_at(lead, NOON))
    later = stamp_at(lead, NOON + timedelta(hours=1))
    agreed = count_lots(found=[Found(lot_of_500_hooks.code, 497)], stamp=later)
    for each_count in (count, agreed):
        with pytest.raises(NotReversibleError):
            reverse_count(count_code=each_count.code, stamp=later)
    assert moved(lot_of_500_hooks)[1:] == [(-3, -60_000)]


def test_a_count_is_undone_with_a_reason(lot_of_500_hooks: Lot, lead: User) -> None:
    count = count_lots(found=[Found(lot_of_500_hooks.code, 497)], stamp=stamp_at(lead, NOON))
    with pytest.raises(ReasonMissingError):
        reverse_count(count_code=count.code, stamp=stamp_at(lead, NOON, reason=""))
