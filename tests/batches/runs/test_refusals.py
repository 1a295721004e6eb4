"""What a bench may not record: nothing, the meaningless, or less than what was scanned."""

from __future__ import annotations

from typing import Any

import pytest

from batches.bills.operations import create_bill, release_bill
from batches.bills.steps.lines import LineDraft
from batches.runs.errors import (
    AmountsMissingError,
    NothingRecordedError,
    ScannedNotTakenError,
)
from batches.runs.models import Batch, Entry
from batches.runs.operations import plan, record, start_batch
from batches.runs.steps.batches import BatchPlan
from batches.runs.steps.drafts import EntryDraft, GoodTally, LotUse, ScrapTally
from inventory.catalog.operations import create_item
from inventory.stock.models import Lot, Movement
from inventory.stock.operations import dispose_of_lot
from shopfloor.codes.errors import OwnCodeError
from shopfloor.errors import InvalidInputError
from shopfloor.models import User
from shopfloor.units import AMOUNT_BASE_MAX
from tests.batches.runs.conftest import NOON, each, running, stamp_at, stock


@pytest.fixture
def gluing(shop: User) -> Batch:
    """A running batch; halves there are, adhesive too."""
    stock(shop, "HALF", 500)
    stock(shop, "ADH-A", 100_000)
    return running(shop, "BODY")


@pytest.mark.parametrize(
    "tallies",
    [
        {},
        {"good": [GoodTally(0)]},
        {"good": [GoodTally(5), GoodTally(0, "second")]},
        {"good": [GoodTally(5), GoodTally(-1, "second")]},
        {"good": [GoodTally(5)], "scrap": [ScrapTally(0, "LEAK")]},
    ],
)
def test_a_line_of_nothing_is_refused(shop: User, gluing: Batch, tallies: dict[str, Any]) -> None:
    with pytest.raises(NothingRecordedError):
        record(draft=EntryDraft(batch_code=gluing.code, **tallies), stamp=stamp_at(shop))
    assert not Entry.objects.exists()


def test_an_empty_lot_that_was_scanned_is_not_left_out_without_a_word(
    shop: User, gluing: Batch
) -> None:
    empty = stock(shop, "HALF", 5)
    dispose_of_lot(lot_code=empty.code, qty_base=5, stamp=stamp_at(shop))
    with pytest.raises(ScannedNotTakenError) as refused:
        record(
            draft=EntryDraft(
                batch_code=gluing.code, good=[GoodTally(10)], lots=[LotUse(empty.code)]
            ),
            stamp=stamp_at(shop),
        )
    assert refused.value.facts["lots"] == [{"lot": empty.code, "on_hand_base": 0}]


def test_a_lot_scanned_behind_one_that_covers_the_need_is_not_left_out_without_a_word(
    shop: User, gluing: Batch
) -> None:
    first, second = stock(shop, "HALF", 20), stock(shop, "HALF", 20)
    lots = [LotUse(first.code), LotUse(second.code)]
    with pytest.raises(ScannedNotTakenError) as refused:
        record(
            draft=EntryDraft(batch_code=gluing.code, good=[GoodTally(10)], lots=lots),
            stamp=stamp_at(shop),
        )
    assert refused.value.facts["lots"] == [{"lot": second.code, "on_hand_base": 20}]
    record(
        draft=EntryDraft(batch_code=gluing.code, good=[GoodTally(11)], lots=lots),
        stamp=stamp_at(shop),
    )
    assert list(Movement.objects.filter(lot=second, qty_base__lt=0).values_list("qty_base")) == [
        (-2,)
    ]


def test_a_lot_that_was_only_at_hand_may_be_left(shop: User, gluing: Batch) -> None:
    first, second = stock(shop, "HALF", 20), stock(shop, "HALF", 20)
    lots = [LotUse(first.code), LotUse(second.code, may_be_left=True)]
    record(
        draft=EntryDraft(batch_code=gluing.code, good=[GoodTally(10)], lots=lots),
        stamp=stamp_at(shop),
    )
    assert not Movement.objects.filter(lot=second, qty_base__lt=0).exists()


def rework(by: User) -> Batch:
    batch = plan(
        plan=BatchPlan(item_code="BODY", planned_base=4, rework_stage="GLUING"), stamp=stamp_at(by)
    )
    return start_batch(batch_code=batch.code, stamp=stamp_at(by))


def test_rework_counts_the_pieces_of_the_lots_that_were_weighed_only_in_their_own_item(
    shop: User,
) -> None:
    bodies, adhesive = stock(shop, "BODY", 10), stock(shop, "ADH-A", 100_000)
    record(
        draft=EntryDraft(
            batch_code=rework(shop).code,
            good=[GoodTally(4)],
            lots=[LotUse(bodies.code), LotUse(adhesive.code, 3)],
        ),
        stamp=stamp_at(shop),
    )
    bodies.refresh_from_db()
    adhesive.refresh_from_db()
    assert (bodies.on_hand_base, adhesive.on_hand_base) == (6, 99_997)


@pytest.mark.parametrize("qty_base", [0, -1])
def test_nothing_is_not_an_amount_that_was_taken(shop: User, qty_base: int) -> None:
    bodies = stock(shop, "BODY", 10)
    with pytest.raises(AmountsMissingError):
        record(
            draft=EntryDraft(
                batch_code=rework(shop).code,
                good=[GoodTally(4)],
                lots=[LotUse(bodies.code, qty_base)],
            ),
            stamp=stamp_at(shop),
        )


def test_scrap_of_which_the_bill_takes_nothing_is_no_posting(shop: User) -> None:
    create_item(
        code="CUP",
        fields={
            "name": "Cup of paint",
            "kind": "other",
            "dimension": "count",
            "display_unit": "each",
            "storage_place": "SHELF",
        },
        by=shop,
        at=NOON,
    )
    lines = [LineDraft(item_code="HALF", per_batch=each("1"))]
    create_bill(item_code="CUP", stage_code="GLUING", lines=lines, by=shop, at=NOON)
    release_bill(item_code="CUP", number=1, by=shop, at=NOON)
    stock(shop, "HALF", 1)
    batch = running(shop, "CUP")
    record(draft=EntryDraft(batch_code=batch.code, good=[GoodTally(1)]), stamp=stamp_at(shop))
    with pytest.raises(NothingRecordedError):
        record(
            draft=EntryDraft(batch_code=batch.code, scrap=[ScrapTally(1, "LEAK")]),
            stamp=stamp_at(shop),
        )
    assert Entry.objects.count() == 1


@pytest.mark.parametrize("planned_base", [0, -1, AMOUNT_BASE_MAX + 1])
def test_a_batch_of_nothing_or_of_too_much_is_not_planned(shop: User, planned_base: int) -> None:
    with pytest.raises(InvalidInputError):
        plan(plan=BatchPlan(item_code="BODY", planned_base=planned_base), stamp=stamp_at(shop))
    assert not Batch.objects.exists()


@pytest.mark.parametrize("code", ["B-2222", "26/113", "-X"])
def test_a_batch_has_no_code_that_cannot_be_printed_or_told_apart(shop: User, code: str) -> None:
    with pytest.raises(OwnCodeError):
        plan(plan=BatchPlan(item_code="BODY", planned_base=1, code=code), stamp=stamp_at(shop))


def test_a_batch_keeps_its_own_code_in_capitals(shop: User) -> None:
    batch = plan(
        plan=BatchPlan(item_code="BODY", planned_base=1, code="26-a"), stamp=stamp_at(shop)
    )
    assert batch.code == "26-A"
    assert not Lot.objects.exists()
