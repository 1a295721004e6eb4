"""People go on recording while a shop is exported: the folder holds one moment."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.utils import timezone

from batches.exchange.selectors.moving_out import write_shop
from inventory.stock.models import Movement
from shopfloor.models import User
from tests.batches import floor
from tests.needs import need_threads
from tests.racing import at_once


@pytest.mark.django_db(transaction=True)
def test_what_is_recorded_during_an_export_is_in_none_of_its_sheets(
    places: None, lead: User, tmp_path: Path
) -> None:
    need_threads()
    floor.enter_item("HOOK", by=lead)
    floor.take_in("HOOK", 1000, worth="20", by=lead)
    recorded: list[object] = []

    def record(_: int) -> None:
        """The first sheet was just read; lots and movements come later."""
        if not recorded:
            recorded.extend(at_once(lambda: floor.take_in("HOOK", 7, worth="1", by=lead)))

    about = write_shop(folder=tmp_path, now=timezone.now(), has_sign_ins=False, on_rows=record)
    assert Movement.objects.count() == 2
    assert {about.sheets[f"{name}.csv"].rows for name in ("lot", "posting", "movement")} == {1}
