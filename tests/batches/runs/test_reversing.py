"""What stands in the way of undoing an entry, and what comes under a hold again."""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.packing.operations import Part, pack_box
from batches.runs.models import Batch
from batches.runs.operations import record, reverse
from batches.runs.steps.drafts import EntryDraft, GoodTally, ScrapTally
from inventory.catalog.operations import create_place
from inventory.stock.errors import NotReversibleError, TooEarlyError
from inventory.stock.models import Lot
from inventory.stock.operations import Found, count_lots, hold_lot, move_lot, release_hold
from inventory.stock.selectors.proofs import ledger_proofs
from shopfloor.models import User
from shopfloor.stamp import Stamp
from tests.batches.runs.conftest import LATER, NOON, running, stamp_at, stock

HOUR = timedelta(hours=1)


def differences() -> list[str]:
    return [line for proof in ledger_proofs() for line in proof.differences]


@pytest.fixture
def gluing(shop: User) -> Batch:
    """A running batch, and enough for it."""
    stock(shop, "HALF", 100)
    stock(shop, "ADH-A", 100_000)
    return running(shop, "BODY")


def test_an_entry_whose_output_is_in_a_box_is_not_reversed(shop: User, gluing: Batch) -> None:
    row = record(
        draft=EntryDraft(batch_code=gluing.code, good=[GoodTally(10)]), stamp=stamp_at(shop)
    )
    box = pack_box(contents=[Part(row.made[0].lot)], stamp=stamp_at(shop))
    with pytest.raises(NotReversibleError) as refused:
        reverse(entry_code=row.code, stamp=stamp_at(shop))
    assert refused.value.facts["stands_in_the_way"] == [
        {"lot": row.made[0].lot, "made_at": "SHELF", "now_at": box.code}
    ]


def test_an_entry_whose_output_was_moved_is_reversed_once_it_is_back(
    shop: User, gluing: Batch
) -> None:
    create_place(code="BENCH", fields={"name": "Bench", "kind": "bench"}, by=shop, at=NOON)
    row = record(
        draft=EntryDraft(batch_code=gluing.code, good=[GoodTally(10)]), stamp=stamp_at(shop)
    )
    made = row.made[0].lot
    move_lot(lot_code=made, place_code="BENCH", stamp=stamp_at(shop))
    with pytest.raises(NotReversibleError):
        reverse(entry_code=row.code, stamp=stamp_at(shop))
    move_lot(lot_code=made, place_code="SHELF", stamp=stamp_at(shop))
    reverse(entry_code=row.code, stamp=stamp_at(shop))
    assert Lot.objects.get(code=made).on_hand_base == 0


def test_an_entry_is_not_undone_before_it_happened(shop: User, gluing: Batch) -> None:
    row = record(
        draft=EntryDraft(batch_code=gluing.code, scrap=[ScrapTally(1, "LEAK")]),
        stamp=stamp_at(shop, NOON + 2 * HOUR),
    )
    with pytest.raises(TooEarlyError):
        reverse(entry_code=row.code, stamp=stamp_at(shop, NOON + HOUR))
    reverse(entry_code=row.code, stamp=stamp_at(shop, NOON + 2 * HOUR))


def test_what_a_reversal_brings_back_comes_under_the_holds_on_what_it_was_made_of(
    shop: User,
) -> None:
    resin = stock(shop, "RESIN", 1_000_000)
    stock(shop, "ADH-A", 100_000)
    molding = running(shop, "HALF")
    halves = record(
        draft=EntryDraft(batch_code=molding.code, good=[GoodTally(20)]), stamp=stamp_at(shop)
    )
    gluing = running(shop, "BODY")
    bodies = record(
        draft=EntryDraft(batch_code=gluing.code, good=[GoodTally(10)]), stamp=stamp_at(shop)
    )
    hold = hold_lot(lot_code=resin.code, stamp=stamp_at(shop))
    reverse(entry_code=bodies.code, stamp=stamp_at(shop))
    back = Lot.objects.get(code=halves.made[0].lot)
    assert (back.on_hand_base, back.disposition) == (20, "held")
    assert differences() == []
    release_hold(hold_code=hold.code, stamp=stamp_at(shop))
    back.refresh_from_db()
    assert back.disposition == "released"


def test_a_count_at_the_very_time_of_an_entry_stands_in_the_way_if_it_was_later(
    shop: User,
) -> None:
    halves = stock(shop, "HALF", 100)
    stock(shop, "ADH-A", 100_000)
    gluing = running(shop, "BODY")
    draft = EntryDraft(batch_code=gluing.code, good=[GoodTally(10)])
    before, after = LATER - 2 * HOUR, LATER - HOUR
    first = record(draft=draft, stamp=Stamp(by=shop, at=NOON, now=before))
    count_lots(found=[Found(halves.code, 80)], stamp=Stamp(by=shop, at=NOON, now=after))
    with pytest.raises(NotReversibleError):
        reverse(entry_code=first.code, stamp=stamp_at(shop))
    second = record(draft=draft, stamp=Stamp(by=shop, at=NOON, now=LATER))
    reverse(entry_code=second.code, stamp=stamp_at(shop))
    halves.refresh_from_db()
    assert halves.on_hand_base == 80
