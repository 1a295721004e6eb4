"""Complaints that come more often than pieces that leave explain."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from batches.management.commands.watch import look_at_complaints
from batches.packing.operations import ComplaintDraft, complain
from batches.runs.models import ScrapReason
from batches.watch.models import Alert
from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import Run, at_minute, materials, run

LATEST = floor.LATER + timedelta(days=30)

__all__ = ["materials", "run"]  # fixtures of the room below


def told(lead: User, day: date, pieces: int = 1, complaints: int = 1) -> None:
    """Somebody complains of leaks of what left in the one box."""
    for _ in range(complaints):
        draft = ComplaintDraft(defect_code="LEAK", pieces=pieces, told_on=day, box_code="BOX-1")
        complain(draft=draft, stamp=replace(at_minute(lead, 100), now=LATEST))


def look() -> list[Alert]:
    return look_at_complaints([ScrapReason.objects.get(code="LEAK").pk], now=LATEST)


@pytest.mark.usefixtures("run")
def test_complaints_that_come_at_once_after_few_open_an_alert(lead: User) -> None:
    told(lead, date(2026, 4, 11))
    assert look() == []
    told(lead, date(2026, 4, 13), complaints=8)
    [alert] = look()
    # 24 pieces in 90 days are 11 in the 40 to the first complaint, and half a one in two.
    assert alert.seen == (
        "Since 2026-04-13 8 complaints came while 1 piece left; before, 1 complaint came while 11 "
        "pieces left."
    )
    assert alert.definition is None
    assert look() == []


@pytest.mark.usefixtures("run")
def test_one_complaint_of_many_pieces_is_one(lead: User) -> None:
    told(lead, date(2026, 4, 11))
    told(lead, date(2026, 4, 13), pieces=8)
    assert look() == []


def test_what_nobody_complained_of_is_not_looked_at(run: Run) -> None:
    assert look() == []
