"""Bills and their revisions: drafted, changed while drafts, retired, put at another stage."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches.bills.errors import (
    BillStandsError,
    DimensionMismatchError,
    RatioOutOfRangeError,
    RevisionRetiredError,
)
from batches.bills.models import Bill, BillAlternative, BillLine
from batches.bills.operations import (
    change_revision,
    change_stage,
    create_bill,
    create_revision,
    put_bill_at_stage,
    release_bill,
    retire_bill,
)
from batches.bills.selectors.bills import BillDetail, bill_detail
from batches.bills.steps.lines import LineDraft
from inventory.catalog.errors import NotActiveError
from inventory.catalog.operations import change_item
from shopfloor.errors import InvalidInputError, NotFoundError
from shopfloor.models import Change, User
from tests.batches.floor import (
    BOUGHT,
    LATER,
    NOON,
    draft_bill,
    instead,
    line,
)

PAIR = frozenset({"HANGER", "RING"})
HALVES = (line("HALF-L", "1 each"), line("HALF-R", "1 each"))


def states(item: str) -> list[tuple[int, str]]:
    """Number and state of each revision, newest first."""
    return [(row.number, row.state) for row in bill_detail(item).revisions]


def codes(detail: BillDetail) -> list[str]:
    return [one.item.code for one in detail.sheet.lines]


def statements(write: Callable[[], object]) -> int:
    with CaptureQueriesContext(connection) as captured:
        write()
    return len(captured)


# --- drafted ------------------------------------------------------------------------------------


def test_a_bill_begins_with_a_draft(floor_ready: None, lead: User) -> None:
    made = create_bill(
        item_code="BODY-70",
        stage_code="GLUING",
        lines=HALVES,
        scrap_ratio=Decimal("0.03"),
        note="first try",
        by=lead,
        at=NOON,
    )
    sheet = made.sheet
    assert (sheet.number, sheet.state, sheet.stage_code) == (1, "draft", "GLUING")
    assert (sheet.scrap_ratio, sheet.note) == (Decimal("0.03"), "first try")
    assert codes(made) == ["HALF-L", "HALF-R"]
    assert made.revisions[0].by == "lead"
    assert made.revisions[0].recorded_at == NOON


def test_an_item_has_one_bill(floor_ready: None, lead: User) -> None:
    draft_bill("BODY-70", "GLUING", by=lead)
    with pytest.raises(BillStandsError) as refused:
        draft_bill("BODY-70", "GLUING", by=lead)
    assert refused.value.facts == {"item": "BODY-70"}


def test_a_bill_needs_an_item_and_a_stage_that_there_are(floor_ready: None, lead: User) -> None:
    with pytest.raises(NotFoundError):
        draft_bill("NONE", "GLUING", by=lead)
    with pytest.raises(NotFoundError):
        draft_bill("BODY-70", "NONE", by=lead)


def test_a_bill_is_not_made_at_a_stage_or_for_an_item_out_of_use(
    floor_ready: None, lead: User
) -> None:
    change_item(code="BODY-90", fields={"is_active": False}, by=lead, at=LATER)
    with pytest.raises(NotActiveError):
        draft_bill("BODY-90", "GLUING", by=lead)
    change_stage(code="GLUING", fields={"is_active": False}, by=lead, at=LATER)
    with pytest.raises(NotActiveError):
        draft_bill("BODY-70", "GLUING", by=lead)


@pytest.mark.parametrize(("item", "stage"), [("GLUE", "GLUING"), ("BODY-70", "MIXING")])
def test_pieces_are_not_mixed_and_a_mixture_is_not_pieces(
    floor_ready: None, lead: User, item: str, stage: str
) -> None:
    with pytest.raises(DimensionMismatchError):
        draft_bill(item, stage, by=lead)
    assert not Bill.objects.exists()


def test_scrap_stays_below_all(floor_ready: None, lead: User) -> None:
    draft_bill("BODY-70", "GLUING", by=lead, scrap_ratio="0.99999")
    with pytest.raises(RatioOutOfRangeError):
        draft_bill("BODY-90", "GLUING", by=lead, scrap_ratio="1")


def test_a_note_longer_than_its_column_is_refused(floor_ready: None, lead: User) -> None:
    draft_bill("BODY-70", "GLUING", by=lead)
    change_revision(item_code="BODY-70", number=1, note="n" * 300, by=lead, at=LATER)
    with pytest.raises(InvalidInputError):
        change_revision(item_code="BODY-70", number=1, note="n" * 301, by=lead, at=LATER)


def test_a_new_revision_copies_the_current_one(released_bills: None, lead: User) -> None:
    made = create_revision(item_code="HALF-L", note="less colorant", by=lead, at=LATER)
    before = bill_detail("HALF-L", 1).sheet
    assert (made.sheet.number, made.sheet.state, made.sheet.note) == (2, "draft", "less colorant")
    assert made.sheet.lines == before.lines
    assert made.sheet.scrap_ratio == before.scrap_ratio
    assert states("HALF-L") == [(2, "draft"), (1, "current")]


def test_a_new_revision_copies_the_one_named_and_without_a_current_one_the_newest(
    floor_ready: None, lead: User
) -> None:
    draft_bill("BODY-70", "GLUING", *HALVES, by=lead)
    create_revision(item_code="BODY-70", by=lead, at=LATER)
    change_revision(item_code="BODY-70", number=2, lines=HALVES[:1], by=lead, at=LATER)
    newest = create_revision(item_code="BODY-70", by=lead, at=LATER)
    named = create_revision(item_code="BODY-70", copy_of=1, by=lead, at=LATER)
    assert (codes(newest), codes(named)) == (["HALF-L"], ["HALF-L", "HALF-R"])
    with pytest.raises(NotFoundError):
        create_revision(item_code="BODY-70", copy_of=9, by=lead, at=LATER)


def test_only_what_has_a_bill_gets_a_revision(floor_ready: None, lead: User) -> None:
    with pytest.raises(NotFoundError):
        create_revision(item_code="BODY-70", by=lead, at=LATER)


# --- changed while a draft ----------------------------------------------------------------------


def test_the_list_of_lines_is_replaced_as_a_whole(floor_ready: None, lead: User) -> None:
    others = line("RESIN", "4 g", alternatives=(instead("REGRIND", "0.2"),))
    draft_bill("BODY-70", "GLUING", others, *HALVES, by=lead)
    changed = change_revision(
        item_code="BODY-70", number=1, lines=(line("HANGER", "2 each"),), by=lead, at=LATER
    )
    assert codes(changed) == ["HANGER"]
    assert (BillLine.objects.count(), BillAlternative.objects.count()) == (1, 0)


def test_what_is_not_named_stays(floor_ready: None, lead: User) -> None:
    draft_bill("BODY-70", "GLUING", *HALVES, by=lead, scrap_ratio="0.03")
    changed = change_revision(item_code="BODY-70", number=1, note="new", by=lead, at=LATER)
    assert (codes(changed), changed.sheet.note) == (["HALF-L", "HALF-R"], "new")
    assert changed.sheet.scrap_ratio == Decimal("0.03")


def test_a_change_of_lines_is_kept_with_what_was_before(floor_ready: None, lead: User) -> None:
    draft_bill("BODY-70", "GLUING", line("HANGER", "2 each"), by=lead)
    change_revision(
        item_code="BODY-70", number=1, lines=(line("GLUE", "120.5 mg"),), by=lead, at=LATER
    )
    kept = Change.objects.get(row_code="BODY-70/1", at=LATER)
    empty = {"role": "taken", "loss_ratio": "0", "value_ratio": "0", "alternatives": []}
    assert kept.by == lead
    assert kept.before == {
        "lines": [{**empty, "item": "HANGER", "per_piece_base": "2", "per_batch_base": 0}]
    }
    assert kept.after == {
        "lines": [{**empty, "item": "GLUE", "per_piece_base": "120.5", "per_batch_base": 0}]
    }


def test_a_long_list_takes_as_many_statements_as_a_short_one(floor_ready: None, lead: User) -> None:
    def change(*lines: LineDraft) -> Callable[[], object]:
        return lambda: change_revision(
            item_code="LURE-70-PERCH", number=1, lines=lines, by=lead, at=LATER
        )

    draft_bill("LURE-70-PERCH", "RIGGING", by=lead)
    short = line("HANGER", "1 each", alternatives=(instead("RING"),))
    counted = [code for code, facts in BOUGHT.items() if facts[2] == "count"]
    long = [line(code, per_batch="12 each", alternatives=(instead("RING"),)) for code in counted]
    # The first fills an empty draft: nothing is there yet to remove.
    statements(change(line("HANGER", "2 each", alternatives=(instead("RING"),))))
    one = statements(change(short))
    many = statements(change(short, *(each for each in long if each.item_code not in PAIR)))
    assert one == many


# --- retired, moved -----------------------------------------------------------------------------


def test_a_current_revision_and_a_draft_may_be_retired_once(
    released_bills: None, lead: User
) -> None:
    create_revision(item_code="HALF-L", by=lead, at=LATER)
    retire_bill(item_code="HALF-L", number=2, by=lead, at=LATER)
    retired = retire_bill(item_code="HALF-L", number=1, by=lead, at=LATER)
    assert states("HALF-L") == [(2, "retired"), (1, "retired")]
    assert retired.revisions[0].released_at is None
    with pytest.raises(RevisionRetiredError):
        retire_bill(item_code="HALF-L", number=1, by=lead, at=LATER)


def test_a_bill_put_at_another_stage_keeps_its_revisions(released_bills: None, lead: User) -> None:
    moved = put_bill_at_stage(item_code="HALF-L", stage_code="GLUING", by=lead, at=LATER)
    assert (moved.sheet.stage_code, moved.sheet.state) == ("GLUING", "current")
    kept = Change.objects.get(table="batches_bill", row_code="HALF-L", at=LATER)
    assert list(kept.after) == ["stage"]


def test_a_bill_goes_only_to_a_stage_that_makes_such_an_item(
    released_bills: None, lead: User
) -> None:
    with pytest.raises(DimensionMismatchError):
        put_bill_at_stage(item_code="HALF-L", stage_code="MIXING", by=lead, at=LATER)
    with pytest.raises(NotFoundError):
        put_bill_at_stage(item_code="RESIN", stage_code="MOLDING", by=lead, at=LATER)


@pytest.mark.parametrize(
    "write",
    [
        lambda lead: change_revision(item_code="HALF-L", number=9, note="x", by=lead, at=LATER),
        lambda lead: release_bill(item_code="HALF-L", number=9, by=lead, at=LATER),
        lambda lead: release_bill(item_code="RESIN", number=1, by=lead, at=LATER),
        lambda lead: retire_bill(item_code="HALF-L", number=9, by=lead, at=LATER),
    ],
)
def test_a_revision_that_there_is_not_is_not_found(
    released_bills: None, lead: User, write: Callable[[User], object]
) -> None:
    with pytest.raises(NotFoundError):
        write(lead)
