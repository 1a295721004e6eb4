"""Recording and correcting entries: what they take, make and refuse."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches.runs.errors import (
    LotNotInBillError,
    MaterialShortError,
    NamedTwiceError,
    NewerEntryError,
    NotAByProductError,
    NothingRecordedError,
    OverrideNotAllowedError,
    RevisionNotCurrentError,
    ScrapReasonElsewhereError,
    ShareExceededError,
    WrongBatchStateError,
)
from batches.runs.models import Batch, Entry, EntryFactor
from batches.runs.operations import (
    abort_batch,
    complete_batch,
    hold_batch,
    plan,
    record,
    resume_batch,
    reverse,
)
from batches.runs.steps.batches import BatchPlan
from batches.runs.steps.drafts import (
    ByProductWeighed,
    EntryDraft,
    GoodTally,
    LotUse,
    ScrapTally,
)
from inventory.stock.errors import (
    LotExpiredError,
    LotHeldError,
    LotShortError,
    NotReversibleError,
)
from inventory.stock.models import Lot, LotEvent, Movement
from inventory.stock.operations import (
    Found,
    count_lots,
    dispose_of_lot,
    hold_lot,
    release_hold,
)
from shopfloor.errors import NotFoundError
from shopfloor.models import User
from shopfloor.operation import RequestToken
from tests.batches.runs.conftest import NOON, running, stamp_at, stock


def test_an_entry_takes_what_the_bill_asks_and_scrap_makes_good_pieces_dearer(shop: User) -> None:
    stock(shop, "HALF", 500, 5_000_000)
    adhesive = stock(shop, "ADH-A", 100_000, 1_000_000)
    batch = running(shop, "BODY")
    row = record(
        draft=EntryDraft(
            batch_code=batch.code,
            good=[GoodTally(98)],
            scrap=[ScrapTally(2, "LEAK", "WHEEL-1-3")],
        ),
        stamp=stamp_at(shop),
    )
    # 200 halves at 10,000 and 100 x 0.15 g + 5 g of adhesive at 10 a mg: 2,000,000 + 200,000.
    assert [(t.item, t.amount.amount, t.value) for t in row.taken] == [
        ("HALF", "200", "2.00"),
        ("ADH-A", "20", "0.20"),
    ]
    assert [(m.item, m.amount.amount, m.value) for m in row.made] == [("BODY", "98", "2.20")]
    adhesive.refresh_from_db()
    assert adhesive.on_hand_base == 80_000


def test_the_amount_a_batch_is_taken_once(shop: User) -> None:
    stock(shop, "HALF", 500)
    adhesive = stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    record(draft=EntryDraft(batch_code=batch.code, good=[GoodTally(10)]), stamp=stamp_at(shop))
    record(draft=EntryDraft(batch_code=batch.code, good=[GoodTally(10)]), stamp=stamp_at(shop))
    adhesive.refresh_from_db()
    assert adhesive.on_hand_base == 100_000 - 5_000 - 2 * 1_500


def test_what_expires_first_is_taken_first_and_the_need_spills_over(shop: User) -> None:
    stock(shop, "ADH-A", 100_000)
    keeps = stock(shop, "HALF", 100)
    soon = stock(shop, "HALF", 30, expires_at=NOON + timedelta(days=1))
    batch = running(shop, "BODY")
    row = record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(20)]), stamp=stamp_at(shop)
    )
    assert {t.lot: t.amount.amount for t in row.taken if t.item == "HALF"} == {
        soon.code: "30",
        keeps.code: "10",
    }


def test_a_scanned_lot_is_taken_before_the_proposal(shop: User) -> None:
    stock(shop, "ADH-A", 100_000)
    stock(shop, "HALF", 100, expires_at=NOON + timedelta(days=1))
    scanned = stock(shop, "HALF", 30)
    batch = running(shop, "BODY")
    row = record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(10)], lots=[LotUse(scanned.code)]),
        stamp=stamp_at(shop),
    )
    assert {t.lot: t.amount.amount for t in row.taken if t.item == "HALF"} == {scanned.code: "20"}


def test_a_weighed_amount_is_what_was_taken_whatever_the_bill_says(shop: User) -> None:
    adhesive = stock(shop, "ADH-A", 100_000)
    stock(shop, "HALF", 100)
    batch = running(shop, "BODY")
    record(
        draft=EntryDraft(
            batch_code=batch.code, good=[GoodTally(10)], lots=[LotUse(adhesive.code, 7_321)]
        ),
        stamp=stamp_at(shop),
    )
    adhesive.refresh_from_db()
    assert adhesive.on_hand_base == 100_000 - 7_321


def test_too_little_material_says_what_is_missing_and_what_may_not_be_used(shop: User) -> None:
    stock(shop, "ADH-A", 100_000)
    stock(shop, "HALF", 10)
    held = stock(shop, "HALF", 90)
    hold_lot(lot_code=held.code, stamp=stamp_at(shop))
    batch = running(shop, "BODY")
    with pytest.raises(MaterialShortError) as refused:
        record(draft=EntryDraft(batch_code=batch.code, good=[GoodTally(20)]), stamp=stamp_at(shop))
    assert refused.value.facts["short"] == [{"item": "HALF", "missing_base": 30}]
    assert refused.value.facts["not_usable"] == [
        {"lot": held.code, "item": "HALF", "on_hand_base": 90, "why": "held"}
    ]
    assert not Entry.objects.exists()


def test_regrind_up_to_its_share_passes_and_one_milligram_more_is_refused(shop: User) -> None:
    resin = stock(shop, "RESIN", 10_000_000)
    regrind = stock(shop, "REGRIND", 10_000_000)
    batch = running(shop, "HALF")
    with pytest.raises(ShareExceededError):
        record(
            draft=EntryDraft(
                batch_code=batch.code,
                good=[GoodTally(100)],
                lots=[LotUse(resin.code, 375_000), LotUse(regrind.code, 125_001)],
            ),
            stamp=stamp_at(shop),
        )
    record(
        draft=EntryDraft(
            batch_code=batch.code,
            good=[GoodTally(100)],
            lots=[LotUse(resin.code, 375_000), LotUse(regrind.code, 125_000)],
        ),
        stamp=stamp_at(shop),
    )


def test_scanned_regrind_is_used_up_to_its_share_and_resin_for_the_rest(shop: User) -> None:
    resin = stock(shop, "RESIN", 10_000_000)
    regrind = stock(shop, "REGRIND", 10_000_000)
    batch = running(shop, "HALF")
    row = record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(100)], lots=[LotUse(regrind.code)]),
        stamp=stamp_at(shop),
    )
    assert {t.lot: t.amount.amount for t in row.taken} == {resin.code: "375", regrind.code: "125"}


def test_a_by_product_comes_off_at_no_value_computed_or_weighed(shop: User) -> None:
    stock(shop, "RESIN", 10_000_000, 1_000_000)
    batch = running(shop, "HALF")
    computed = record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(100)]), stamp=stamp_at(shop)
    )
    assert [(m.item, m.amount.amount, m.value) for m in computed.made] == [
        ("HALF", "100", "0.05"),
        ("REGRIND", "100", "0.00"),
    ]
    weighed = record(
        draft=EntryDraft(
            batch_code=batch.code,
            good=[GoodTally(100)],
            by_products=[ByProductWeighed("REGRIND", 88_000)],
        ),
        stamp=stamp_at(shop),
    )
    assert weighed.made[1].amount.amount == "88"
    assert EntryFactor.objects.get().value == "REGRIND"


def test_an_unknown_by_product_is_refused(shop: User) -> None:
    stock(shop, "RESIN", 10_000_000)
    batch = running(shop, "HALF")
    with pytest.raises(NotAByProductError):
        record(
            draft=EntryDraft(
                batch_code=batch.code,
                good=[GoodTally(1)],
                by_products=[ByProductWeighed("RESIN", 1)],
            ),
            stamp=stamp_at(shop),
        )


def test_an_entry_of_scrap_alone_is_a_loss(shop: User) -> None:
    stock(shop, "HALF", 500, 5_000_000)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    row = record(
        draft=EntryDraft(batch_code=batch.code, scrap=[ScrapTally(3, "LEAK")]), stamp=stamp_at(shop)
    )
    posting = Entry.objects.get().posting
    assert row.made == []
    assert (posting.outside_kind, posting.outside_micro) == ("loss", -60_000)


def test_grades_become_lots_that_share_the_value_by_pieces(shop: User) -> None:
    stock(shop, "HALF", 500, 5_000_000)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    row = record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(2), GoodTally(1, "second")]),
        stamp=stamp_at(shop),
    )
    assert [(m.amount.amount, m.value) for m in row.made] == [("2", "0.04"), ("1", "0.02")]
    assert row.made[1].lot == f"{row.made[0].lot}-2"


def test_a_mixture_lives_for_its_pot_life(shop: User) -> None:
    stock(shop, "ADH-A", 100_000)
    stock(shop, "ADH-B", 100_000)
    batch = running(shop, "ADH-MIX", 20_000)
    row = record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(20_000)]), stamp=stamp_at(shop)
    )
    lot = Lot.objects.get(code=row.made[0].lot)
    assert lot.expires_at == NOON + timedelta(minutes=30)
    assert Entry.objects.get().posting.kind == "mixed"


def test_an_expired_lot_is_used_only_with_the_written_reason_of_a_lead(
    shop: User, bench_hand: User
) -> None:
    stock(shop, "HALF", 100)
    old = stock(shop, "ADH-A", 100_000, expires_at=NOON + timedelta(hours=1))
    batch = running(shop, "BODY")
    late = NOON + timedelta(hours=2)
    lots = [LotUse(old.code, 6_500)]
    with pytest.raises(LotExpiredError):
        record(
            draft=EntryDraft(batch_code=batch.code, good=[GoodTally(10)], lots=lots),
            stamp=stamp_at(shop, late),
        )
    overriding = EntryDraft(
        batch_code=batch.code, good=[GoodTally(10)], lots=lots, override_reason="tested today"
    )
    with pytest.raises(OverrideNotAllowedError):
        record(draft=overriding, stamp=stamp_at(bench_hand, late))
    record(draft=overriding, stamp=stamp_at(shop, late))
    event = LotEvent.objects.get(kind="expiry_overridden")
    assert (event.lot, event.reason) == (old, "tested today")


def test_a_lot_that_expires_at_the_time_of_use_may_be_used(shop: User) -> None:
    stock(shop, "HALF", 100)
    stock(shop, "ADH-A", 100_000, expires_at=NOON + timedelta(hours=1))
    batch = running(shop, "BODY")
    record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(10)]),
        stamp=stamp_at(shop, NOON + timedelta(hours=1)),
    )


def test_nobody_overrides_a_hold(shop: User) -> None:
    stock(shop, "HALF", 100)
    adhesive = stock(shop, "ADH-A", 100_000)
    hold_lot(lot_code=adhesive.code, stamp=stamp_at(shop))
    batch = running(shop, "BODY")
    with pytest.raises(LotHeldError):
        record(
            draft=EntryDraft(
                batch_code=batch.code,
                good=[GoodTally(10)],
                lots=[LotUse(adhesive.code)],
                override_reason="please",
            ),
            stamp=stamp_at(shop),
        )


def test_an_entry_of_before_the_hold_is_recorded_and_its_output_is_born_held(shop: User) -> None:
    stock(shop, "HALF", 100)
    adhesive = stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    hold = hold_lot(lot_code=adhesive.code, stamp=stamp_at(shop, NOON + timedelta(hours=3)))
    row = record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(10)], lots=[LotUse(adhesive.code)]),
        stamp=stamp_at(shop, NOON + timedelta(hours=1)),
    )
    made = Lot.objects.get(code=row.made[0].lot)
    assert made.disposition == "held"
    release_hold(hold_code=hold.code, stamp=stamp_at(shop, NOON + timedelta(hours=4)))
    made.refresh_from_db()
    assert made.disposition == "released"


def test_a_lot_the_bill_does_not_ask_for_is_refused(shop: User) -> None:
    stock(shop, "HALF", 100)
    resin = stock(shop, "RESIN", 100)
    batch = running(shop, "BODY")
    with pytest.raises(LotNotInBillError) as refused:
        record(
            draft=EntryDraft(batch_code=batch.code, good=[GoodTally(1)], lots=[LotUse(resin.code)]),
            stamp=stamp_at(shop),
        )
    assert refused.value.facts["bill_asks_for"] == ["ADH-A", "HALF"]


def test_more_than_a_lot_holds_is_refused(shop: User) -> None:
    halves = stock(shop, "HALF", 19)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    with pytest.raises(LotShortError):
        record(
            draft=EntryDraft(
                batch_code=batch.code, good=[GoodTally(10)], lots=[LotUse(halves.code, 20)]
            ),
            stamp=stamp_at(shop),
        )


def test_what_makes_no_sense_is_refused(shop: User) -> None:
    halves = stock(shop, "HALF", 100)
    batch = running(shop, "BODY")
    with pytest.raises(NothingRecordedError):
        record(draft=EntryDraft(batch_code=batch.code), stamp=stamp_at(shop))
    with pytest.raises(NamedTwiceError):
        record(
            draft=EntryDraft(
                batch_code=batch.code,
                good=[GoodTally(1)],
                lots=[LotUse(halves.code), LotUse(halves.code, 2)],
            ),
            stamp=stamp_at(shop),
        )
    with pytest.raises(ScrapReasonElsewhereError):
        record(
            draft=EntryDraft(batch_code=batch.code, scrap=[ScrapTally(1, "SHORT")]),
            stamp=stamp_at(shop),
        )
    with pytest.raises(NotFoundError):
        record(
            draft=EntryDraft(batch_code=batch.code, good=[GoodTally(1, equipment_code="WHEEL-9")]),
            stamp=stamp_at(shop),
        )
    with pytest.raises(NotFoundError):
        record(
            draft=EntryDraft(batch_code=batch.code, good=[GoodTally(1)], lots=[LotUse("NONE")]),
            stamp=stamp_at(shop),
        )
    assert not Entry.objects.exists()


def test_only_a_running_batch_takes_entries_and_a_held_one_runs_again(shop: User) -> None:
    stock(shop, "HALF", 100)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    draft = EntryDraft(batch_code=batch.code, good=[GoodTally(1)])
    hold_batch(batch_code=batch.code, stamp=stamp_at(shop))
    with pytest.raises(WrongBatchStateError):
        record(draft=draft, stamp=stamp_at(shop))
    resume_batch(batch_code=batch.code, stamp=stamp_at(shop))
    with pytest.raises(WrongBatchStateError):
        complete_batch(batch_code=batch.code, stamp=stamp_at(shop))
    record(draft=draft, stamp=stamp_at(shop))
    complete_batch(batch_code=batch.code, stamp=stamp_at(shop))
    with pytest.raises(WrongBatchStateError):
        abort_batch(batch_code=batch.code, stamp=stamp_at(shop))


def test_a_batch_is_made_to_the_current_revision_only(shop: User) -> None:
    with pytest.raises(RevisionNotCurrentError):
        plan(plan=BatchPlan(item_code="BODY", planned_base=1, revision=2), stamp=stamp_at(shop))
    with pytest.raises(NotFoundError):
        plan(plan=BatchPlan(item_code="RESIN", planned_base=1), stamp=stamp_at(shop))


def test_a_reversal_restores_exactly_what_the_entry_took_and_made(shop: User) -> None:
    stock(shop, "HALF", 77, 1_000_003)
    stock(shop, "ADH-A", 33_333, 777_777)
    batch = running(shop, "BODY")
    before = list(Lot.objects.order_by("pk").values_list("code", "on_hand_base", "value_micro"))
    row = record(draft=EntryDraft(batch_code=batch.code, good=[GoodTally(7)]), stamp=stamp_at(shop))
    reverse(entry_code=row.code, stamp=stamp_at(shop, NOON + timedelta(hours=1)))
    after = list(Lot.objects.order_by("pk").values_list("code", "on_hand_base", "value_micro"))
    assert after == [*before, (row.made[0].lot, 0, 0)]
    with pytest.raises(NotReversibleError):
        reverse(entry_code=row.code, stamp=stamp_at(shop, NOON + timedelta(hours=2)))


def test_the_right_entry_goes_in_at_the_time_of_the_wrong_one(shop: User) -> None:
    halves = stock(shop, "HALF", 100)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    at = NOON + timedelta(hours=1)
    wrong = record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(50)]), stamp=stamp_at(shop, at)
    )
    reverse(entry_code=wrong.code, stamp=stamp_at(shop, NOON + timedelta(hours=5)))
    record(draft=EntryDraft(batch_code=batch.code, good=[GoodTally(48)]), stamp=stamp_at(shop, at))
    halves.refresh_from_db()
    assert halves.on_hand_base == 4


def test_entries_are_reversed_newest_first(shop: User) -> None:
    stock(shop, "HALF", 100)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    draft = EntryDraft(batch_code=batch.code, good=[GoodTally(1)])
    first = record(draft=draft, stamp=stamp_at(shop))
    second = record(draft=draft, stamp=stamp_at(shop))
    with pytest.raises(NewerEntryError) as refused:
        reverse(entry_code=first.code, stamp=stamp_at(shop))
    assert refused.value.facts["newer"] == second.code


def test_an_entry_whose_output_was_used_or_whose_lot_was_counted_is_not_reversed(
    shop: User,
) -> None:
    halves = stock(shop, "HALF", 100)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    draft = EntryDraft(batch_code=batch.code, good=[GoodTally(10)])
    used = record(draft=draft, stamp=stamp_at(shop))
    dispose_of_lot(lot_code=used.made[0].lot, qty_base=1, stamp=stamp_at(shop))
    with pytest.raises(NotReversibleError) as refused:
        reverse(entry_code=used.code, stamp=stamp_at(shop))
    in_the_way = refused.value.facts["stands_in_the_way"]
    assert isinstance(in_the_way, list)
    assert in_the_way[0]["kind"] == "disposed"
    counted = record(draft=draft, stamp=stamp_at(shop))
    count_lots(found=[Found(halves.code, 60)], stamp=stamp_at(shop, NOON + timedelta(hours=1)))
    with pytest.raises(NotReversibleError):
        reverse(entry_code=counted.code, stamp=stamp_at(shop, NOON + timedelta(hours=2)))


def test_rework_takes_held_bodies_and_what_it_makes_is_held_too(shop: User) -> None:
    bodies = stock(shop, "BODY", 10, 500)
    hold = hold_lot(lot_code=bodies.code, stamp=stamp_at(shop))
    batch = plan(
        plan=BatchPlan(item_code="BODY", planned_base=4, rework_stage="GLUING"),
        stamp=stamp_at(shop),
    )
    Batch.objects.filter(pk=batch.pk).update(state="running")
    row = record(
        draft=EntryDraft(batch_code=batch.code, good=[GoodTally(4)], lots=[LotUse(bodies.code)]),
        stamp=stamp_at(shop),
    )
    made = Lot.objects.get(code=row.made[0].lot)
    assert (made.disposition, made.on_hand_base, made.value_micro) == ("held", 4, 200)
    release_hold(hold_code=hold.code, stamp=stamp_at(shop))
    made.refresh_from_db()
    assert made.disposition == "released"


@pytest.mark.parametrize("lots", [1, 10, 100])
def test_an_entry_takes_at_most_sixteen_statements_for_any_number_of_lots(
    shop: User, lots: int
) -> None:
    for _ in range(lots):
        stock(shop, "HALF", 2)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    draft = EntryDraft(
        batch_code=batch.code,
        good=[GoodTally(lots - 1, equipment_code="WHEEL-1-1")] if lots > 1 else (),
        scrap=[ScrapTally(1, "LEAK", "WHEEL-1-2")],
        equipment_codes=["WHEEL-1"],
        factors={"humidity": "45"},
        done_by="lead",
    )
    token = RequestToken(user_id=shop.pk, key=f"key-{lots}", fingerprint="f")
    with CaptureQueriesContext(
        connection,
    ) as seen:
        record.answering(token, lambda row: row.code)(draft=draft, stamp=stamp_at(shop))
    # Under this test's own transaction BEGIN and COMMIT show as a savepoint's two statements.
    statements = [q["sql"] for q in seen.captured_queries]
    assert len(statements) <= 16, [sql[:60] for sql in statements]
    assert Movement.objects.filter(qty_base=-2).count() == lots
