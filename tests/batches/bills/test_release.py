"""A release: what it refuses, and that a released revision never changes."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection
from django.test.utils import CaptureQueriesContext

from batches.bills.errors import (
    BillCycleError,
    BillEmptyError,
    ByProductSharesError,
    RatioOutOfRangeError,
    RevisionReleasedError,
)
from batches.bills.models import BillRevision
from batches.bills.operations import (
    change_revision,
    change_stage,
    create_revision,
    release_bill,
    retire_bill,
)
from batches.bills.selectors.bills import bill_detail
from batches.bills.steps.lines import LineDraft
from inventory.catalog.errors import NotActiveError
from inventory.catalog.operations import change_item
from shopfloor.models import Change, User
from tests.batches.floor import (
    LATER,
    NOON,
    RUNNERS,
    draft_bill,
    instead,
    line,
)

HALVES = (line("HALF-L", "1 each"), line("HALF-R", "1 each"))


def states(item: str) -> list[tuple[int, str]]:
    """Number and state of each revision, newest first."""
    return [(row.number, row.state) for row in bill_detail(item).revisions]


def statements(write: Callable[[], object]) -> int:
    with CaptureQueriesContext(connection) as captured:
        write()
    return len(captured)


def test_a_release_makes_a_draft_current_and_retires_the_one_before(
    released_bills: None, lead: User
) -> None:
    create_revision(item_code="HALF-L", by=lead, at=LATER)
    released = release_bill(item_code="HALF-L", number=2, by=lead, at=LATER)
    now, before = released.revisions
    assert (now.number, now.state, now.released_at, now.retired_at) == (2, "current", LATER, None)
    assert (before.state, before.released_at, before.retired_at) == ("retired", NOON, LATER)


def test_who_released_is_kept(floor_ready: None, lead: User, owner: User) -> None:
    draft_bill("BODY-70", "GLUING", *HALVES, by=lead)
    release_bill(item_code="BODY-70", number=1, by=owner, at=LATER)
    kept = Change.objects.get(row_code="BODY-70/1", at=LATER)
    assert kept.by == owner
    assert kept.before == {"state": "draft", "released_at": None}
    assert kept.after["state"] == "current"


def test_a_released_revision_never_changes(released_bills: None, lead: User) -> None:
    before = bill_detail("HALF-L", 1).sheet
    with pytest.raises(RevisionReleasedError, match="Make a new revision") as refused:
        change_revision(
            item_code="HALF-L", number=1, lines=(line("RESIN", "5 g"),), by=lead, at=LATER
        )
    assert refused.value.facts == {"item": "HALF-L", "revision": 1, "state": "current"}
    with pytest.raises(RevisionReleasedError):
        change_revision(item_code="HALF-L", number=1, note="x", by=lead, at=LATER)
    with pytest.raises(RevisionReleasedError):
        release_bill(item_code="HALF-L", number=1, by=lead, at=LATER)
    assert bill_detail("HALF-L", 1).sheet == before


def test_a_retired_revision_never_changes_and_never_comes_back(
    released_bills: None, lead: User
) -> None:
    retire_bill(item_code="HALF-L", number=1, by=lead, at=LATER)
    with pytest.raises(RevisionReleasedError, match="Make a new revision"):
        change_revision(item_code="HALF-L", number=1, note="x", by=lead, at=LATER)
    with pytest.raises(RevisionReleasedError):
        release_bill(item_code="HALF-L", number=1, by=lead, at=LATER)
    assert states("HALF-L") == [(1, "retired")]


@pytest.mark.parametrize("lines", [(), (line("REGRIND", "1 g", **RUNNERS),)])
def test_a_bill_that_takes_nothing_is_not_released(
    floor_ready: None, lead: User, lines: tuple[LineDraft, ...]
) -> None:
    draft_bill("HALF-L", "MOLDING", *lines, by=lead)
    with pytest.raises(BillEmptyError) as refused:
        release_bill(item_code="HALF-L", number=1, by=lead, at=LATER)
    assert refused.value.facts == {"item": "HALF-L", "revision": 1}


def test_one_line_is_enough(floor_ready: None, lead: User) -> None:
    draft_bill("HALF-L", "MOLDING", line("RESIN", "4 g"), by=lead)
    release_bill(item_code="HALF-L", number=1, by=lead, at=LATER)
    assert states("HALF-L") == [(1, "current")]


@pytest.fixture
def almost_a_circle(released_bills: None, lead: User) -> None:
    """A draft by which the left half would take the painted body."""
    create_revision(item_code="HALF-L", by=lead, at=LATER)
    drafts = (line("RESIN", "4 g"), line("PAINTED-70-PERCH", "1 each"))
    change_revision(item_code="HALF-L", number=2, lines=drafts, by=lead, at=LATER)


def test_a_circle_is_refused_and_named_from_end_to_end(almost_a_circle: None, lead: User) -> None:
    with pytest.raises(BillCycleError) as refused:
        release_bill(item_code="HALF-L", number=2, by=lead, at=LATER)
    path = ["HALF-L", "PAINTED-70-PERCH", "BODY-70", "HALF-L"]
    assert refused.value.facts == {"path": path}
    assert "HALF-L takes PAINTED-70-PERCH takes BODY-70 takes HALF-L" in refused.value.detail
    assert states("HALF-L") == [(2, "draft"), (1, "current")]


def test_a_circle_through_current_revisions_alone_counts(almost_a_circle: None, lead: User) -> None:
    retire_bill(item_code="BODY-70", number=1, by=lead, at=LATER)
    release_bill(item_code="HALF-L", number=2, by=lead, at=LATER)
    create_revision(item_code="BODY-70", copy_of=1, by=lead, at=LATER)
    with pytest.raises(BillCycleError):
        release_bill(item_code="BODY-70", number=2, by=lead, at=LATER)


def test_an_alternative_closes_a_circle_too(released_bills: None, lead: User) -> None:
    create_revision(item_code="HALF-L", by=lead, at=LATER)
    drafts = (line("HANGER", "1 each", alternatives=(instead("BODY-70", "0.5"),)),)
    change_revision(item_code="HALF-L", number=2, lines=drafts, by=lead, at=LATER)
    with pytest.raises(BillCycleError) as refused:
        release_bill(item_code="HALF-L", number=2, by=lead, at=LATER)
    assert refused.value.facts == {"path": ["HALF-L", "BODY-70", "HALF-L"]}


def test_what_comes_off_closes_no_circle(released_bills: None, lead: User) -> None:
    create_revision(item_code="HALF-L", by=lead, at=LATER)
    drafts = (line("RESIN", "4 g"), line("BODY-70", "1 each", **RUNNERS))
    change_revision(item_code="HALF-L", number=2, lines=drafts, by=lead, at=LATER)
    release_bill(item_code="HALF-L", number=2, by=lead, at=LATER)
    assert states("HALF-L") == [(2, "current"), (1, "retired")]


@pytest.mark.parametrize("out_of_use", ["HALF-L", "RESIN", "REGRIND"])
def test_items_out_of_use_are_refused_wherever_they_stand(
    floor_ready: None, lead: User, out_of_use: str
) -> None:
    other = line("RESIN", "4 g", alternatives=(instead("REGRIND", "0.2"),))
    draft_bill("HALF-L", "MOLDING", other, by=lead)
    change_item(code=out_of_use, fields={"is_active": False}, by=lead, at=LATER)
    with pytest.raises(NotActiveError) as refused:
        release_bill(item_code="HALF-L", number=1, by=lead, at=LATER)
    assert refused.value.facts == {"items": [out_of_use]}


def test_a_stage_out_of_use_is_refused(floor_ready: None, lead: User) -> None:
    draft_bill("HALF-L", "MOLDING", line("RESIN", "4 g"), by=lead)
    change_stage(code="MOLDING", fields={"is_active": False}, by=lead, at=LATER)
    with pytest.raises(NotActiveError) as refused:
        release_bill(item_code="HALF-L", number=1, by=lead, at=LATER)
    assert refused.value.facts == {"stage": "MOLDING"}


def by_products(*ratios: str) -> tuple[LineDraft, ...]:
    """A line of resin, and by-products that carry off these shares of the value."""
    codes_off = ("REGRIND", "COLORANT")
    off = (
        line(code, "1 g", role="by_product", value_ratio=Decimal(ratio))
        for code, ratio in zip(codes_off, ratios, strict=True)
    )
    return (line("RESIN", "4 g"), *off)


def test_by_products_leave_some_value_to_the_pieces(floor_ready: None, lead: User) -> None:
    draft_bill("HALF-L", "MOLDING", *by_products("0.5", "0.49999"), by=lead)
    release_bill(item_code="HALF-L", number=1, by=lead, at=LATER)
    draft_bill("HALF-R", "MOLDING", *by_products("0.5", "0.5"), by=lead)
    with pytest.raises(ByProductSharesError) as refused:
        release_bill(item_code="HALF-R", number=1, by=lead, at=LATER)
    assert refused.value.facts == {
        "item": "HALF-R",
        "shares": "1",
        "by_products": ["REGRIND", "COLORANT"],
    }


def test_what_the_catalog_changed_since_is_looked_at_again(floor_ready: None, lead: User) -> None:
    other = line("HANGER", "1 each", alternatives=(instead("RING", "1"),))
    draft_bill("BODY-70", "GLUING", other, by=lead)
    change_item(code="HANGER", fields={"kind": "other"}, by=lead, at=LATER)
    change_item(code="RING", fields={"kind": "regrind"}, by=lead, at=LATER)
    with pytest.raises(RatioOutOfRangeError):
        release_bill(item_code="BODY-70", number=1, by=lead, at=LATER)


def test_a_release_takes_as_many_statements_however_many_bills_there_are(
    floor_ready: None, lead: User
) -> None:
    def release(item: str) -> Callable[[], object]:
        return lambda: release_bill(item_code=item, number=1, by=lead, at=LATER)

    draft_bill("HALF-L", "MOLDING", line("RESIN", "4 g"), by=lead)
    draft_bill("HALF-R", "MOLDING", line("RESIN", "4 g"), line("COLORANT", "1 mg"), by=lead)
    draft_bill("BODY-70", "GLUING", *HALVES, by=lead)
    counts = [statements(release(item)) for item in ("HALF-L", "HALF-R", "BODY-70")]
    assert counts[0] == counts[1] == counts[2]


def test_the_database_itself_refuses_a_second_current_revision(
    released_bills: None, lead: User
) -> None:
    create_revision(item_code="HALF-L", by=lead, at=LATER)
    with pytest.raises(IntegrityError, match=r"(?i)unique"):
        BillRevision.objects.filter(bill__item__code="HALF-L", number=2).update(state="current")
