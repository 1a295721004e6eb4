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
from tests.kept import Kept

NOW = floor.LATER + timedelta(minutes=1)

__all__ = ["materials", "two_pots", "wheel"]  # fixtures of the room below


def look(now: datetime = NOW) -> list[Alert]:
    """Look for rises of every check."""
    ids = list(CheckDefinition.objects.values_list("pk", flat=True))
    return look_at_checks(ids, now=now)


def _make_good_lots(*, pot: Lot, lead: User) -> None:
    for _ in range(12):
        checked(lead, bodies(lead, pot, 20), 20, 0, now=floor.LATER - timedelta(hours=2))


def _make_leaking(*, pot: Lot, lead: User) -> None:
    for _ in range(3):
        checked(lead, bodies(lead, pot, 21), 20, 10, now=floor.LATER - timedelta(hours=1))


GOOD_LOTS = Kept(_make_good_lots)
LEAKING = Kept(_make_leaking)


@pytest.fixture
def good_lots(two_pots: tuple[Lot, Lot], lead: User) -> tuple[Lot, Lot]:
    """Twelve lots of the first pot, none of which leaks; answers the pots."""
    GOOD_LOTS(pot=two_pots[0], lead=lead)
    return two_pots


@pytest.fixture
def leaking(good_lots: tuple[Lot, Lot], lead: User) -> Lot:
    """And three of the second pot, of which half leak; answers that pot."""
    LEAKING(pot=good_lots[1], lead=lead)
    return good_lots[1]


@pytest.fixture
def alert(leaking: Lot) -> Alert:
    """The alert of that."""
    [opened] = look()
    return opened
