"""Holds find everything, let nothing past them, and end wholly."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.stock.errors import TooEarlyError, WrongDispositionError
from inventory.stock.models import HeldLot, Lot
from inventory.stock.operations import (
    Found,
    adjust_lot,
    count_lots,
    dispose_of_lot,
    hold_lot,
    reject_lot,
    release_hold,
    release_lot,
    split_off,
)
from inventory.stock.selectors.proofs import ledger_proofs
from inventory.stock.steps.lots import states_at
from shopfloor.models import User
from tests.inventory.stock.conftest import NOON, stamp_at

HOUR = timedelta(hours=1)


def differences() -> list[str]:
    return [line for proof in ledger_proofs() for line in proof.differences]


def disposition_of(lot: Lot) -> str:
    return Lot.objects.get(pk=lot.pk).disposition


def state_at(lot: Lot, hours: float) -> str:
    """What a lot was, so many hours after noon."""
    return states_at([Lot.objects.get(pk=lot.pk)], NOON + hours * HOUR)[lot.pk].disposition


@pytest.fixture
def part(lot_of_500_hooks: Lot, lead: User) -> Lot:
    return split_off(lot_code=lot_of_500_hooks.code, qty_base=200, stamp=stamp_at(lead, NOON))


def test_a_lot_rejected_before_a_hold_upstream_is_not_released_past_it(
    lot_of_500_hooks: Lot, part: Lot, lead: User
) -> None:
    reject_lot(lot_code=part.code, stamp=stamp_at(lead, NOON))
    hold = hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    with pytest.raises(WrongDispositionError):
        release_lot(lot_code=part.code, stamp=stamp_at(lead, NOON))
    release_hold(hold_code=hold.code, stamp=stamp_at(lead, NOON))
    assert disposition_of(part) == "rejected"
    release_lot(lot_code=part.code, stamp=stamp_at(lead, NOON))
    assert disposition_of(part) == "released"


def test_a_part_of_a_lot_rejected_under_a_hold_is_not_released_past_it(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    reject_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    part = split_off(lot_code=lot_of_500_hooks.code, qty_base=200, stamp=stamp_at(lead, NOON))
    with pytest.raises(WrongDispositionError):
        release_lot(lot_code=part.code, stamp=stamp_at(lead, NOON))


def test_an_empty_part_joins_the_hold_when_a_count_finds_something_of_it(
    lot_of_500_hooks: Lot, part: Lot, lead: User
) -> None:
    dispose_of_lot(lot_code=part.code, qty_base=200, stamp=stamp_at(lead, NOON))
    hold = hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    assert disposition_of(part) == "released"
    count_lots(found=[Found(part.code, 7)], stamp=stamp_at(lead, NOON + HOUR))
    assert disposition_of(part) == "held"
    assert differences() == []
    release_hold(hold_code=hold.code, stamp=stamp_at(lead, NOON + HOUR))
    assert disposition_of(part) == "released"


def test_an_empty_part_joins_the_hold_when_an_adjustment_finds_something_of_it(
    lot_of_500_hooks: Lot, part: Lot, lead: User
) -> None:
    dispose_of_lot(lot_code=part.code, qty_base=200, stamp=stamp_at(lead, NOON))
    hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
    adjust_lot(lot_code=part.code, qty_base=7, stamp=stamp_at(lead, NOON))
    assert disposition_of(part) == "held"
    assert differences() == []


def test_a_hold_does_not_end_before_it_began(lot_of_500_hooks: Lot, lead: User) -> None:
    hold = hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON + 2 * HOUR))
    with pytest.raises(TooEarlyError):
        release_hold(hold_code=hold.code, stamp=stamp_at(lead, NOON + HOUR))
    release_hold(hold_code=hold.code, stamp=stamp_at(lead, NOON + 2 * HOUR))


def test_a_hold_dated_back_does_not_free_the_time_of_an_earlier_hold(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    first = hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON + 4 * HOUR))
    release_hold(hold_code=first.code, stamp=stamp_at(lead, NOON + 6 * HOUR))
    hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON + 5 * HOUR))
    assert state_at(lot_of_500_hooks, 3.9) == "released"
    assert state_at(lot_of_500_hooks, 4.5) == "held"
    assert state_at(lot_of_500_hooks, 5.5) == "held"
    assert state_at(lot_of_500_hooks, 6.5) == "held"
    assert differences() == []


def test_a_hold_on_held_lots_takes_as_many_statements_for_ten_parts_as_for_one(
    lot_of_500_hooks: Lot, part: Lot, lead: User
) -> None:
    def statements() -> int:
        with CaptureQueriesContext(connection) as seen:
            hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON))
        return len(seen)

    statements()
    of_one_part = statements()
    for _ in range(9):
        split_off(lot_code=part.code, qty_base=1, stamp=stamp_at(lead, NOON))
    assert statements() == of_one_part
    assert HeldLot.objects.filter(hold__release=None).count() == 2 + 2 + 9 * 2 + 11


def test_a_lot_is_not_rejected_or_released_at_a_time_before_its_state_changed_last(
    lot_of_500_hooks: Lot, lead: User
) -> None:
    hold = hold_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON + 2 * HOUR))
    release_hold(hold_code=hold.code, stamp=stamp_at(lead, NOON + 4 * HOUR))
    with pytest.raises(TooEarlyError):
        reject_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON + HOUR))
    reject_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON + 4 * HOUR))
    with pytest.raises(TooEarlyError):
        release_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON + 3 * HOUR))
    release_lot(lot_code=lot_of_500_hooks.code, stamp=stamp_at(lead, NOON + 5 * HOUR))
    assert state_at(lot_of_500_hooks, 4.5) == "rejected"
