"""What follows on a check or complaint, in a thread of its own: it harms nothing recorded."""

from __future__ import annotations

import logging
from collections.abc import Iterator

import pytest
from django.test import override_settings

from batches.apps import _look_at_checks
from batches.quality.models import Check
from batches.watch.models import Alert
from inventory.stock.models import Lot
from shopfloor import afterwards
from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import bodies, checked
from tests.needs import need_threads

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def watching() -> Iterator[None]:
    """As in a shop; what a test replaced comes back."""
    need_threads()
    with override_settings(SHOP_WATCH_BY_HAND=False):
        yield
        afterwards.finish(timeout_seconds=30)
    afterwards.follow(afterwards.CHECKED, _look_at_checks)


def dunk(lead: User, lot: Lot, failed: int) -> int:
    """Record a check by its door; the status it is answered with."""
    results = [{"tested": 20, "failed": failed}]
    body = {"definition": "DUNK", "lot": lot.code, "results": results}
    return int(floor.Caller(lead).post("checks/", body).status_code)


def test_a_check_that_shows_a_rise_opens_an_alert_by_itself(
    two_pots: tuple[Lot, Lot], lead: User
) -> None:
    for _ in range(12):
        checked(lead, bodies(lead, two_pots[0], 20), 20, 0)
    statuses = [dunk(lead, bodies(lead, two_pots[1], 21), 10) for _ in range(3)]
    afterwards.finish(timeout_seconds=60)
    assert statuses == [201, 201, 201]
    assert Alert.objects.get().definition_id == Check.objects.latest("pk").definition_id


def test_a_watch_that_crashes_leaves_the_check_recorded_and_is_logged(
    two_pots: tuple[Lot, Lot], lead: User, caplog: pytest.LogCaptureFixture
) -> None:
    def crash(numbers: set[int]) -> None:
        raise RuntimeError("broken on purpose")

    afterwards.follow(afterwards.CHECKED, crash)
    with caplog.at_level(logging.ERROR):
        status = dunk(lead, bodies(lead, two_pots[0], 20), 0)
        afterwards.finish(timeout_seconds=30)
    assert status == 201
    assert Check.objects.count() == 1
    assert "broken on purpose" in caplog.text
    assert "nothing recorded is harmed" in caplog.text


def test_what_is_refused_is_not_followed(two_pots: tuple[Lot, Lot], lead: User) -> None:
    told: list[set[int]] = []
    afterwards.follow(afterwards.CHECKED, told.append)
    lot = bodies(lead, two_pots[0], 20)
    assert dunk(lead, lot, 21) == 422
    afterwards.finish(timeout_seconds=30)
    assert told == []
    assert dunk(lead, lot, 0) == 201
    afterwards.finish(timeout_seconds=30)
    assert told == [{Check.objects.get().definition_id}]
