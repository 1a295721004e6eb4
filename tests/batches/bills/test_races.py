"""Two leads at once, on a database of several connections."""

from __future__ import annotations

import pytest

from batches.bills.models import BillRevision, Stage
from batches.bills.operations import (
    change_revision,
    change_stage,
    create_bill,
    create_revision,
    put_bill_at_stage,
    release_bill,
)
from shopfloor.models import User
from tests.batches.floor import LATER, NOON, draft_bill, line
from tests.needs import need_threads
from tests.racing import at_once, codes, inside, one_behind_the_other

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def several_connections() -> None:
    need_threads()


def test_of_two_releases_that_each_close_half_of_a_circle_one_is_refused(
    floor_ready: None, lead: User
) -> None:
    draft_bill("HALF-L", "MOLDING", line("BODY-70", "1 each"), by=lead)
    draft_bill("BODY-70", "GLUING", line("HALF-L", "1 each"), by=lead)
    told = at_once(
        lambda: release_bill(item_code="HALF-L", number=1, by=lead, at=LATER),
        lambda: release_bill(item_code="BODY-70", number=1, by=lead, at=LATER),
    )
    assert codes(told) == ["bill_cycle", "done"]
    assert BillRevision.objects.filter(state="current").count() == 1


def test_revisions_made_at_once_get_numbers_of_their_own(floor_ready: None, lead: User) -> None:
    draft_bill("HALF-L", "MOLDING", line("RESIN", "4 g"), by=lead)

    def make() -> object:
        return create_revision(item_code="HALF-L", by=lead, at=LATER)

    assert codes(at_once(make, make, make)) == ["done", "done", "done"]
    numbers = BillRevision.objects.order_by("number").values_list("number", flat=True)
    assert list(numbers) == [1, 2, 3, 4]


def test_of_two_first_bills_of_an_item_one_stands(floor_ready: None, lead: User) -> None:
    def make() -> object:
        return create_bill(item_code="HALF-L", stage_code="MOLDING", by=lead, at=NOON)

    assert codes(at_once(make, make)) == ["bill_stands", "done"]


def test_a_draft_changed_while_it_is_released_is_one_or_the_other(
    floor_ready: None, lead: User
) -> None:
    draft_bill("HALF-L", "MOLDING", line("RESIN", "4 g"), by=lead)
    told = at_once(
        lambda: release_bill(item_code="HALF-L", number=1, by=lead, at=LATER),
        lambda: change_revision(item_code="HALF-L", number=1, lines=(), by=lead, at=LATER),
    )
    # Released first: the change is refused. Emptied first: the release is.
    assert codes(told) in (["done", "revision_released"], ["bill_empty", "done"])


def test_a_stage_does_not_turn_to_mixing_under_a_bill_being_made(
    floor_ready: None, lead: User
) -> None:
    told = at_once(
        lambda: draft_bill("HALF-L", "MOLDING", by=lead),
        lambda: change_stage(code="MOLDING", fields={"is_mixing": True}, by=lead, at=LATER),
    )
    assert codes(told) == ["dimension_mismatch", "done"]


def test_a_bill_that_was_put_at_another_stage_meanwhile_is_still_found(
    floor_ready: None, lead: User
) -> None:
    draft_bill("HALF-L", "MOLDING", line("RESIN", "4 g"), by=lead)
    moved, revised = one_behind_the_other(
        lambda: inside(put_bill_at_stage)(
            item_code="HALF-L", stage_code="BOXING", by=lead, at=LATER
        ),
        lambda: create_revision(item_code="HALF-L", by=lead, at=LATER),
    )
    assert codes([moved, revised]) == ["done", "done"]


def test_a_stage_that_got_another_place_meanwhile_keeps_it(floor_ready: None, lead: User) -> None:
    changed = one_behind_the_other(
        lambda: inside(change_stage)(
            code="MOLDING", fields={"place": "BOOTH-1"}, by=lead, at=LATER
        ),
        lambda: change_stage(code="MOLDING", fields={"name": "Press"}, by=lead, at=LATER),
    )
    assert codes(changed) == ["done", "done"]
    stage = Stage.objects.select_related("place").get(code="MOLDING")
    assert (stage.name, stage.place and stage.place.code) == ("Press", "BOOTH-1")
