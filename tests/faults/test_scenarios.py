"""A served shop under load, hurt and badly treated, for some seconds each.

For minutes: `python -m tests.bench.faults`.
"""

from __future__ import annotations

import pytest

from tests.faults import breaking, scenarios
from tests.faults.shops import Shop


def test_eight_writers_are_all_served_and_lose_nothing(other_shop: Shop) -> None:
    assert scenarios.eight_writers(other_shop, seconds=3).wrong == []


def test_power_cuts_lose_nothing_and_double_nothing(other_shop: Shop) -> None:
    assert scenarios.power_cuts(other_shop, cuts=3).wrong == []


def test_one_key_from_eight_clients_at_once_is_carried_out_once(other_shop: Shop) -> None:
    assert scenarios.one_key_from_eight(other_shop, keys=10).wrong == []


def test_clients_that_hang_up_leave_all_or_nothing(other_shop: Shop) -> None:
    assert scenarios.half_a_body(other_shop, times=5).wrong == []


def test_slow_clients_keep_nobody_waiting(other_shop: Shop) -> None:
    assert scenarios.slow_clients(other_shop, clients=8, seconds=2).wrong == []


def test_a_body_far_too_big_is_refused(other_shop: Shop) -> None:
    assert scenarios.a_big_body(other_shop).wrong == []


@pytest.mark.only_on("postgresql")
def test_connections_that_are_ended_in_mid_posting_lose_nothing(other_shop: Shop) -> None:
    assert breaking.terminated_connections(other_shop, seconds=3).wrong == []


@pytest.mark.only_on("sqlite")
def test_a_file_that_was_overwritten_is_told_and_its_copy_goes_on(other_shop: Shop) -> None:
    assert breaking.damaged_file(other_shop).wrong == []
