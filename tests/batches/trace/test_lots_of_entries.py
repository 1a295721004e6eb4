"""Which lots went into which entries, against the walk of a trace of each entry alone."""

from __future__ import annotations

from batches.runs.models import Entry
from batches.trace.selectors.lots_of_entries import lots_of_entries
from inventory.stock.models import Lot, Movement
from inventory.stock.operations import split_off
from inventory.stock.selectors.lineage import upstream_ids
from shopfloor.models import User
from tests.batches.trace.conftest import Run, at_minute, entry


def test_lots_are_those_that_a_trace_of_each_entry_finds(run: Run, lead: User) -> None:
    part = split_off(lot_code=run.body_second.code, qty_base=5, stamp=at_minute(lead, 45))
    entry("PAINTING-1", 5, by=lead, minute=55, uses=[(part.code, 5)])
    entry_ids = list(Entry.objects.order_by("pk").values_list("pk", flat=True))
    found: list[set[str]] = [set() for _ in entry_ids]
    lots = lots_of_entries(entry_ids)
    for number, lot in enumerate(lots.rows):
        for place in lots.places_of(number):
            found[place].add(lot.code)
    assert found == [_codes_upstream(entry_id) for entry_id in entry_ids]
    assert len(set(map(frozenset, found))) > 4


def _codes_upstream(entry_id: int) -> set[str]:
    taken = Movement.objects.filter(posting=entry_id, qty_base__lt=0)
    ids = upstream_ids(taken.values_list("lot_id", flat=True))
    return set(Lot.objects.filter(pk__in=ids).values_list("code", flat=True))
