"""Causes of what customers complained of, beside or instead of scrap and checks."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from pytest_django import DjangoAssertNumQueries

from batches.packing.models import Complaint, Shipment
from batches.packing.operations import (
    Back,
    ComplaintDraft,
    LooseLot,
    Price,
    complain,
    create_customer,
    ship,
    take_back_from_customer,
)
from batches.trace.errors import StageNeededError
from batches.trace.selectors import causes
from batches.trace.selectors.causes import Causes, CountedRow
from batches.trace.selectors.results import KindRow
from inventory.stock.models import Lot
from shopfloor.errors import InvalidInputError
from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import at_minute, bodies, checked
from tests.inventory.stock.plans import plans_of, statistics_of_a_large_ledger, whole_reads
from tests.kept import Kept

Calling = Callable[[User], floor.Caller]
SENT_ON = floor.NOON.date()
LONG_AFTER = SENT_ON + timedelta(days=100)
MARCH: dict[str, Any] = {"first_on": date(2026, 3, 1), "last_on": date(2026, 3, 31)}


def look(**given: Any) -> Causes:
    """The answer for March's gluing, as known long after."""
    return causes(**{"defect": "LEAK", "stage": "GLUING", "on": LONG_AFTER, **MARCH, **given})


def told(lead: User, pieces: int, **named: Any) -> Complaint:
    """A complaint of leaks, two weeks after."""
    told_on = SENT_ON + timedelta(days=14)
    draft = ComplaintDraft(defect_code="LEAK", pieces=pieces, told_on=told_on, **named)
    return complain(draft=draft, stamp=at_minute(lead, 90))


def sent(lead: User, lot: Lot) -> Shipment:
    """All of a lot leaves."""
    return ship(
        customer_code="HEN",
        lots=[LooseLot(lot.code)],
        prices=[Price(lot.item.code, 1_000_000)],
        stamp=at_minute(lead, 70),
    )


def _send_bodies(*, pots: tuple[Lot, Lot], lead: User) -> None:
    fine, bad = pots
    create_customer(code="HEN", name="A test customer", stamp=at_minute(lead, 0))
    for turn in range(8):
        for pot, minute in ((fine, 20 + 2 * turn), (bad, 21 + 2 * turn)):
            sent(lead, bodies(lead, pot, minute))


SENT = Kept(_send_bodies)


@pytest.fixture
def pots(two_pots: tuple[Lot, Lot], lead: User) -> tuple[Lot, Lot]:
    """Of two pots by turns, all bodies of which left the shop the same day."""
    SENT(pots=two_pots, lead=lead)
    return two_pots


def made_of(pot: Lot) -> list[Lot]:
    """The bodies glued from a pot."""
    lots = Lot.objects.filter(item__code="BODY-70").order_by("pk")
    return list(lots)[pot.code == Lot.objects.filter(item__code="GLUE").latest("pk").code :: 2]


@pytest.fixture
def bad_pot(pots: tuple[Lot, Lot], lead: User) -> Lot:
    """Customers tell of two pieces of each of the second pot's lots: of eight parcels."""
    for lot in made_of(pots[1]):
        told(lead, 2, lot_code=lot.code)
    return pots[1]


def test_a_bad_pot_that_only_customers_noticed_is_named(bad_pot: Lot) -> None:
    answer = look()
    [cause] = answer.causes
    assert (cause.exposure.kind, cause.exposure.name) == ("lot", bad_pot.code)
    assert (cause.exposure.failed_with, cause.exposure.tested_with) == (8, 160)
    assert (cause.exposure.failed_without, cause.exposure.tested_without) == (0, 160)
    assert answer.tests == [KindRow("complaints", "", 320, 8)]
    assert look(source="complaints") == answer


def test_nothing_changes_where_nobody_complained(pots: tuple[Lot, Lot], lead: User) -> None:
    for turn, lot in enumerate((*made_of(pots[0]), *made_of(pots[1]))):
        checked(lead, lot, 6, turn % 3, now=floor.LATER)
    told(lead, 1, lot_code=made_of(pots[0])[0].code)
    assert [row.source for row in look().tests] == ["checks", "complaints"]
    before_it_was_told = look(on=SENT_ON + timedelta(days=13))
    assert [row.source for row in before_it_was_told.tests] == ["checks"]
    assert before_it_was_told == look(source="checks")


def test_that_nobody_complained_is_an_answer_where_only_that_is_asked(bad_pot: Lot) -> None:
    before_it_was_told = look(source="complaints", on=SENT_ON + timedelta(days=8))
    assert before_it_was_told.words == "None of 32 pieces failed."


def test_what_left_lately_counts_for_less(bad_pot: Lot) -> None:
    early = look(on=SENT_ON + timedelta(days=29))  # a third of the time there is to complain
    assert early.tests == [KindRow("complaints", "", 107, 8)]
    assert early.causes[0].exposure.name == bad_pot.code


def test_a_complaint_of_a_model_and_some_days_is_untold_until_its_pieces_come_back(
    bad_pot: Lot, lead: User
) -> None:
    days = {"bought_first_on": SENT_ON, "bought_last_on": SENT_ON}
    wide = told(lead, 3, item_code="BODY-70", **days)
    assert (look().untold, look().failed) == (3, 8)
    [left_out] = [row for row in look().complaints if row.left_out]
    assert (left_out.complaint, left_out.pieces) == (wide.code, 3)
    assert "nobody knows which entry" in left_out.left_out
    lot = made_of(bad_pot)[7]
    take_back_from_customer(
        shipment_code=Shipment.objects.get(lines__lot=lot).code,
        lines=[Back(lot.code, 3)],
        place_code=lot.place.code,
        complaint_code=wide.code,
        stamp=at_minute(lead, 95),
    )
    answer = look()
    assert (answer.untold, answer.failed) == (0, 9)
    assert answer.causes[0].exposure.failed_with == 9


def test_a_defect_that_only_customers_tell_of_may_come_of_any_stage(bad_pot: Lot) -> None:
    with pytest.raises(StageNeededError) as refused:
        look(stage="")
    assert refused.value.facts["stages"] == ["MIXING", "GLUING"]
    mixed = look(stage="MIXING")
    assert (mixed.tested, mixed.failed) == (320, 8)
    assert mixed.nearest == []  # a pot is all that its mixing made: nothing to compare with


def test_the_statements_do_not_grow_with_complaints(
    bad_pot: Lot, lead: User, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(22):
        look()
    told(lead, 1, lot_code=made_of(bad_pot)[6].code)
    with django_assert_num_queries(22):
        look()


def test_the_door_takes_the_source(bad_pot: Lot, viewer: User, calling: Calling) -> None:
    query = {"defect": "LEAK", "stage": "GLUING", "last_on": "2026-03-31", "source": "complaints"}
    body = calling(viewer).get("trace/causes/", **query).json()
    assert [(row["source"], row["failed"]) for row in body["tests"]] == [("complaints", 8)]
    assert body["causes"][0]["exposure"]["name"] == bad_pot.code
    chosen = [row["complaint"] for row in body["complaints"]][:2]
    body = calling(viewer).get("trace/causes/", **query, complaints=", ".join(chosen)).json()
    assert [row["complaint"] for row in body["complaints"]] == chosen


def test_of_chosen_complaints_it_is_told_whether_they_may_be_of_the_cause(
    bad_pot: Lot, pots: tuple[Lot, Lot], lead: User
) -> None:
    of_it = Complaint.objects.latest("pk").code
    other = told(lead, 1, lot_code=made_of(pots[0])[0].code).code
    [cause] = look(complaints=[other]).causes
    assert (cause.exposure.name, cause.complaints_with) == (bad_pot.code, 0)
    assert "The complaint chosen cannot be of lot" in cause.words
    [cause] = look(complaints=[other, of_it]).causes
    assert cause.complaints_with == 1
    assert "1 of the 2 complaints chosen may be of lot" in cause.words
    assert look().causes[0].complaints_with is None


def test_no_others_count_where_only_customers_are_asked(
    bad_pot: Lot, pots: tuple[Lot, Lot], lead: User
) -> None:
    other = told(lead, 2, lot_code=made_of(pots[0])[0].code).code
    answer = look(source="complaints", complaints=[other])
    assert (answer.failed, answer.causes) == (1, [])
    assert answer.complaints == [CountedRow(other, 2, "")]


def test_a_complaint_of_another_defect_or_time_is_refused(bad_pot: Lot, lead: User) -> None:
    code = Complaint.objects.latest("pk").code
    with pytest.raises(InvalidInputError) as refused:
        look(complaints=[code, "W-XXXX"])
    assert refused.value.facts == {"complaints": ["W-XXXX"]}
    with pytest.raises(InvalidInputError):
        look(source="complaints", on=SENT_ON + timedelta(days=13), complaints=[code])


@pytest.mark.only_on("sqlite")
def test_no_statement_reads_all_movements_or_postings(bad_pot: Lot) -> None:
    with statistics_of_a_large_ledger():
        plans = plans_of(look)
    assert len(plans) >= 20
    assert whole_reads(plans, "inventory_movement", "inventory_posting") == []
