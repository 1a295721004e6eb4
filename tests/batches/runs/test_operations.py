"""Recording entries: what they take and make."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches.runs.errors import (
    MaterialShortError,
    NamedTwiceError,
    NotAByProductError,
    ShareExceededError,
)
from batches.runs.models import Entry, EntryFactor
from batches.runs.operations import (
    record,
)
from batches.runs.steps.drafts import (
    ByProductWeighed,
    EntryDraft,
    GoodTally,
    LotUse,
    ScrapTally,
)
from inventory.stock.errors import LotShortError
from inventory.stock.models import Lot, Movement
from inventory.stock.operations import (
    hold_lot,
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


def test_lots_that_are_all_weighed_are_locked_at_once_and_the_shelf_is_not_read(
    shop: User,
) -> None:
    adhesive, halves = stock(shop, "ADH-A", 100_000), stock(shop, "HALF", 100)
    other = stock(shop, "HALF", 100, expires_at=NOON + timedelta(days=1))
    batch = running(shop, "BODY")
    uses = [LotUse(adhesive.code, 7_321), LotUse(halves.code, 21)]
    draft = EntryDraft(batch_code=batch.code, good=[GoodTally(10)], lots=uses)
    with CaptureQueriesContext(connection) as seen:
        row = record(draft=draft, stamp=stamp_at(shop))
    asked = [q["sql"] for q in seen.captured_queries if 'FROM "inventory_lot"' in q["sql"]]
    assert len(asked) == 2, "what they are, then the lock"
    assert {t.lot: t.amount.amount for t in row.taken} == {
        adhesive.code: "7.321",
        halves.code: "21",
    }
    other.refresh_from_db()
    assert other.on_hand_base == 100
    too_many = [uses[0], LotUse(halves.code, 80)]
    with pytest.raises(LotShortError):
        record(draft=replace(draft, lots=too_many), stamp=stamp_at(shop))
    with pytest.raises(NotFoundError, match="No lot has this code"):
        record(draft=replace(draft, lots=[*uses, LotUse("NONE", 1)]), stamp=stamp_at(shop))
    with pytest.raises(NamedTwiceError):
        record(draft=replace(draft, lots=[*uses, uses[0]]), stamp=stamp_at(shop))


def test_too_little_material_says_what_is_missing_and_what_may_not_be_used(shop: User) -> None:
    stock(shop, "ADH-A", 100_000)
    stock(shop, "HALF", 10)
    held = stock(shop, "HALF", 90)
    hold_lot(lot_code=held.code, stamp=stamp_at(shop))
    batch = running(shop, "BODY")
    with pytest.raises(MaterialShortError) as refused:
        record(draft=EntryDraft(batch_code=batch.code, good=[GoodTally(20)]), stamp=stamp_at(shop))
    assert refused.value.facts["short"] == [
        {"item": "HALF", "missing": {"amount": "30", "unit": "each"}}
    ]
    assert refused.value.facts["not_usable"] == [
        {
            "lot": held.code,
            "item": "HALF",
            "on_hand": {"amount": "90", "unit": "each"},
            "why": "held",
        }
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


def test_an_entry_with_a_good_piece_has_no_part_outside(shop: User) -> None:
    stock(shop, "HALF", 500, 5_000_000)
    stock(shop, "ADH-A", 100_000)
    batch = running(shop, "BODY")
    draft = EntryDraft(batch_code=batch.code, good=[GoodTally(1)], scrap=[ScrapTally(3, "LEAK")])
    record(draft=draft, stamp=stamp_at(shop))
    posting = Entry.objects.get().posting
    assert (posting.outside_kind, posting.outside_micro) == ("", 0)


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
