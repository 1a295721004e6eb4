"""A case takes down where every piece is while others work, on several connections."""

from __future__ import annotations

import pytest

from batches.recall.models import RecallFigure
from batches.recall.operations import begin_recall, close_recall
from batches.recall.selectors.asked import Asked
from inventory.stock.models import Lot
from inventory.stock.operations import dispose_of_lot
from shopfloor.models import User
from tests.batches.trace.conftest import Run, at_minute
from tests.needs import need_threads
from tests.racing import inside, one_behind_the_other

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def several_connections() -> None:
    need_threads()


def test_what_is_at_risk_waits_until_the_figures_are_taken_down(run: Run, lead: User) -> None:
    recall = begin_recall(
        kind="mock", asked=Asked(lots=[run.glue.code]), stamp=at_minute(lead, 100)
    )

    def close() -> object:
        return inside(close_recall)(recall_code=recall.code, stamp=at_minute(lead, 101))

    def throw_away() -> object:
        return dispose_of_lot(lot_code=run.packed.code, qty_base=5, stamp=at_minute(lead, 102))

    one_behind_the_other(close, throw_away)
    lot = Lot.objects.get(pk=run.packed.pk)
    kept = RecallFigure.objects.get(moment="closed", item=lot.item_id)
    assert (kept.free_base, kept.disposed_base, lot.on_hand_base) == (36, 0, 7)
