"""Bodies of a good and a bad pot of adhesive, each lot dunked."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from batches.management.commands.watch import look_at_checks
from batches.quality.models import CheckDefinition
from batches.watch.models import Alert
from inventory.stock.models import Lot
from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import bodies, checked, materials, two_pots, wheel

NOW = floor.LATER + timedelta(minutes=1)

__all__ = ["materials", "two_pots", "wheel"]  # fixtures of the room below


def look(now: datetime = NOW) -> list[Alert]:
    """Look for rises of every check."""
    ids = list(CheckDefinition.objects.values_list("pk", flat=True))
    return look_at_checks(ids, now=now)


@pytest.fixture
def good_lots(two_pots: tuple[Lot, Lot], lead: User) -> tuple[Lot, Lot]:
    """Twelve lots of the first pot, none of which leaks; answers the pots."""
    for _ in range(12):
        checked(lead, bodies(lead, two_pots[0], 20), 20, 0, now=floor.LATER - timedelta(hours=2))
    return two_pots


@pytest.fixture
def leaking(good_lots: tuple[Lot, Lot], lead: User) -> Lot:
    """And three of the second pot, of which half leak; answers that pot."""
    for _ in range(3):
        checked(lead, bodies(lead, good_lots[1], 21), 20, 10, now=floor.LATER - timedelta(hours=1))
    return good_lots[1]


@pytest.fixture
def alert(leaking: Lot) -> Alert:
    """The alert of that."""
    [opened] = look()
    return opened
