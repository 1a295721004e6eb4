"""What travelers say: what is made, what is left, and which lots to take for it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.test.utils import CaptureQueriesContext

from batches.bills.operations import create_bill, create_stage, release_bill
from batches.bills.steps.lines import LineDraft
from batches.labels.selectors.travelers import travelers
from batches.runs.models import Batch
from batches.runs.operations import complete_batch, plan, record, start_batch
from batches.runs.steps.batches import BatchPlan
from batches.runs.steps.drafts import EntryDraft, GoodTally
from inventory.stock.models import Lot
from inventory.stock.operations import hold_lot
from shopfloor.fields import Amount
from shopfloor.models import User
from tests.batches.labels.conftest import MONDAY, TUESDAY, stamp_at, take_in

StockOf = Callable[..., Lot]
Queries = Callable[[int], CaptureQueriesContext]


@pytest.fixture
def batch(owner: User, stock_of: StockOf) -> Batch:
    """A running batch of 10 bodies, of two halves each and 3 g of glue once, between two stages."""
    stock_of("HALF", 15, lot_code="H1", kind="half")
    take_in(owner, "HALF", 100, lot_code="H2")
    stock_of("RESIN", 1000, lot_code="R1", kind="resin", dimension="mass", display_unit="g")
    stock_of("GLUE", 9000, lot_code="G1", kind="adhesive", dimension="mass", display_unit="g")
    stock_of("BODY", 1, kind="body")
    stock_of("PAINTED", 1, kind="painted_body")
    names = {"MOLDING": "Molding", "GLUING": "Gluing", "PAINTING": "Painting"}
    for position, (code, name) in enumerate(names.items()):
        create_stage(code=code, fields={"name": name, "position": position}, by=owner, at=MONDAY)
    glue = LineDraft(item_code="GLUE", per_batch=Amount(Decimal(3), "g"))
    halves = LineDraft(item_code="HALF", per_piece=Amount(Decimal(2), "each"))
    for item, stage, lines in (
        ("HALF", "MOLDING", [LineDraft(item_code="RESIN", per_piece=Amount(Decimal(1), "g"))]),
        ("BODY", "GLUING", [halves, glue]),
        (
            "PAINTED",
            "PAINTING",
            [LineDraft(item_code="BODY", per_piece=Amount(Decimal(1), "each"))],
        ),
    ):
        create_bill(item_code=item, stage_code=stage, lines=lines, by=owner, at=MONDAY)
        release_bill(item_code=item, number=1, by=owner, at=MONDAY)
    return running(owner)


def running(owner: User) -> Batch:
    draft = BatchPlan(item_code="BODY", planned_base=10, planned_on=date(2026, 3, 4))
    planned = plan(plan=draft, stamp=stamp_at(owner, MONDAY))
    return start_batch(batch_code=planned.code, stamp=stamp_at(owner, MONDAY))


def needs_of(batch: Batch) -> list[tuple[str, str, tuple[str, ...]]]:
    (paper,) = travelers([batch.code], at=TUESDAY)
    return [(need.item, need.amount, need.lots) for need in paper.needs]


def test_a_traveler_says_what_to_make_of_which_lots_and_what_comes_before_and_after(
    owner: User, batch: Batch, django_assert_num_queries: Queries
) -> None:
    other = running(owner)
    with django_assert_num_queries(7):
        _, paper = travelers([other.code, batch.code], at=TUESDAY)
    assert (paper.stage, paper.planned, paper.left) == ("Gluing", "10 pieces", "10 pieces")
    assert (paper.comes_from, paper.goes_to) == (("Molding: HALF",), ("Painting: PAINTED",))
    assert (paper.made, paper.planned_on) == ("", "2026-03-04")
    assert needs_of(batch) == [
        ("HALF", "20 pieces", ("H1 (15 pieces)", "H2 (5 pieces)")),
        ("GLUE", "3 g", ("G1 (3 g)",)),
    ]


def test_a_traveler_of_a_batch_under_way_takes_what_is_left(owner: User, batch: Batch) -> None:
    draft = EntryDraft(batch_code=batch.code, good=[GoodTally(6)])
    record(draft=draft, stamp=stamp_at(owner, MONDAY + timedelta(hours=1)))
    (paper,) = travelers([batch.code], at=TUESDAY)
    assert (paper.made, paper.left) == ("6 pieces good, 0 pieces scrapped", "4 pieces")
    # Three halves of H1 were left; glue is taken once a batch.
    assert needs_of(batch) == [("HALF", "8 pieces", ("H1 (3 pieces)", "H2 (5 pieces)"))]


def test_a_traveler_of_a_finished_batch_takes_nothing(owner: User, batch: Batch) -> None:
    draft = EntryDraft(batch_code=batch.code, good=[GoodTally(6)])
    record(draft=draft, stamp=stamp_at(owner, MONDAY + timedelta(hours=1)))
    complete_batch(batch_code=batch.code, stamp=stamp_at(owner))
    (paper,) = travelers([batch.code], at=TUESDAY)
    assert (paper.left, paper.needs) == ("nothing: the batch is complete", ())


def test_a_traveler_says_what_is_short(owner: User, batch: Batch) -> None:
    hold_lot(lot_code="H2", stamp=stamp_at(owner, MONDAY))
    assert needs_of(batch)[0] == ("HALF", "20 pieces", ("H1 (15 pieces)", "5 pieces short"))
