"""A bill copied for another model or colorway."""

from __future__ import annotations

from decimal import Decimal

import pytest

from batches.bills.errors import (
    DimensionMismatchError,
    LineOfItselfError,
    LineTwiceError,
    NotOnBillError,
    PaintedAreaMissingError,
    PerPieceAmountError,
)
from batches.bills.models import Bill
from batches.bills.operations import (
    change_revision,
    copy_bill,
    create_revision,
    release_bill,
    retire_bill,
)
from batches.bills.selectors.bills import BillDetail, bill_detail
from inventory.catalog.errors import NotActiveError
from inventory.catalog.operations import change_item, change_model
from shopfloor.errors import NotFoundError
from shopfloor.models import User
from tests.batches.floor import LATER, draft_bill, enter_item, line

# Painted areas of the floor's models: 7,800 square millimeters to 5,200.
LARGER = Decimal("1.5")


def amounts(detail: BillDetail) -> dict[str, Decimal]:
    return {one.item.code: one.per_piece_base for one in detail.sheet.lines}


def test_paint_goes_by_painted_area_and_all_else_stays(released_bills: None, lead: User) -> None:
    copied = copy_bill(
        item_code="PAINTED-70-PERCH", to_item_code="PAINTED-90-SHAD", by=lead, at=LATER
    )
    assert amounts(copied) == {
        "BODY-70": Decimal(1),
        "PAINT-BASE": 350 * LARGER,
        "PAINT-GREEN": 200 * LARGER,
        "THINNER": 100 * LARGER,
    }
    base = copied.sheet.lines[1]
    assert (base.per_batch_base, base.loss_ratio) == (5_000, Decimal("0.5"))
    assert copied.sheet.scrap_ratio == Decimal("0.04")
    assert (copied.sheet.stage_code, copied.sheet.state) == ("PAINTING", "draft")


def test_paint_may_stay_as_it_is(released_bills: None, lead: User) -> None:
    copied = copy_bill(
        item_code="PAINTED-70-PERCH",
        to_item_code="PAINTED-90-SHAD",
        scale_paint=False,
        by=lead,
        at=LATER,
    )
    assert amounts(copied)["PAINT-BASE"] == 350


def test_items_are_replaced_by_what_stands_for_them(released_bills: None, lead: User) -> None:
    copied = copy_bill(
        item_code="PAINTED-70-PERCH",
        to_item_code="PAINTED-90-SHAD",
        replaced={"body-70": "BODY-90", "PAINT-GREEN": "paint-blue"},
        by=lead,
        at=LATER,
    )
    assert list(amounts(copied)) == ["BODY-90", "PAINT-BASE", "PAINT-BLUE", "THINNER"]
    assert amounts(copied)["PAINT-BLUE"] == 200 * LARGER


def test_an_alternative_is_replaced_too(released_bills: None, lead: User) -> None:
    enter_item("REGRIND-2", kind="regrind", dimension="mass", unit="kg", by=lead)
    copied = copy_bill(
        item_code="HALF-L",
        to_item_code="BODY-90",
        replaced={"REGRIND": "REGRIND-2"},
        by=lead,
        at=LATER,
    )
    resin, _, runners = copied.sheet.lines
    assert resin.alternatives[0].item.code == "REGRIND-2"
    assert runners.item.code == "REGRIND-2"


def test_an_item_with_a_bill_gets_a_new_revision(released_bills: None, lead: User) -> None:
    copied = copy_bill(item_code="HALF-L", to_item_code="HALF-R", by=lead, at=LATER)
    assert [(row.number, row.state) for row in copied.revisions] == [(2, "draft"), (1, "current")]


def test_the_current_revision_is_copied_unless_another_is_named(
    released_bills: None, lead: User
) -> None:
    create_revision(item_code="HALF-L", by=lead, at=LATER)
    change_revision(item_code="HALF-L", number=2, lines=(line("RESIN", "9 g"),), by=lead, at=LATER)
    current = copy_bill(item_code="HALF-L", to_item_code="HALF-R", by=lead, at=LATER)
    named = copy_bill(item_code="HALF-L", to_item_code="HALF-R", copy_of=2, by=lead, at=LATER)
    assert [amounts(one)["RESIN"] for one in (current, named)] == [Decimal(4200), Decimal(9000)]
    retire_bill(item_code="HALF-L", number=1, by=lead, at=LATER)
    newest = copy_bill(item_code="HALF-L", to_item_code="HALF-R", by=lead, at=LATER)
    assert amounts(newest)["RESIN"] == 9000


def test_without_a_painted_area_paint_is_not_guessed(released_bills: None, lead: User) -> None:
    change_model(code="MINNOW-90", fields={"painted_area_mm2": None}, by=lead, at=LATER)
    with pytest.raises(PaintedAreaMissingError) as refused:
        copy_bill(item_code="PAINTED-70-PERCH", to_item_code="PAINTED-90-SHAD", by=lead, at=LATER)
    assert refused.value.facts == {"missing": [{"item": "PAINTED-90-SHAD", "model": "MINNOW-90"}]}
    assert Bill.objects.filter(item__code="PAINTED-90-SHAD").count() == 0


def test_an_item_without_a_model_has_no_painted_area(released_bills: None, lead: User) -> None:
    enter_item("SAMPLE", kind="painted_body", by=lead)
    with pytest.raises(PaintedAreaMissingError) as refused:
        copy_bill(item_code="PAINTED-70-PERCH", to_item_code="SAMPLE", by=lead, at=LATER)
    assert refused.value.facts == {"missing": [{"item": "SAMPLE", "model": None}]}


def test_without_paint_no_area_is_needed(released_bills: None, lead: User) -> None:
    enter_item("SAMPLE", kind="half", by=lead)
    copied = copy_bill(item_code="HALF-L", to_item_code="SAMPLE", by=lead, at=LATER)
    assert amounts(copied)["RESIN"] == 4200


def test_a_mixture_is_shares_and_is_not_scaled(floor_ready: None, lead: User) -> None:
    enter_item("CUP-1", kind="paint", dimension="volume", unit="mL", by=lead)
    enter_item("CUP-2", kind="paint", dimension="volume", unit="mL", by=lead)
    lines = (line("PAINT-GREEN", "0.8 uL"), line("THINNER", "0.2 uL"))
    draft_bill("CUP-1", "MIXING", *lines, by=lead)
    copied = copy_bill(item_code="CUP-1", to_item_code="CUP-2", by=lead, at=LATER)
    assert amounts(copied) == {"PAINT-GREEN": Decimal("0.8"), "THINNER": Decimal("0.2")}


def test_what_is_not_on_the_bill_cannot_be_replaced(released_bills: None, lead: User) -> None:
    with pytest.raises(NotOnBillError) as refused:
        copy_bill(
            item_code="HALF-L",
            to_item_code="HALF-R",
            replaced={"RING": "EYE", "RESIN": "COLORANT"},
            by=lead,
            at=LATER,
        )
    assert refused.value.facts == {"items": ["RING"]}


def test_what_stands_for_an_item_is_measured_like_it(released_bills: None, lead: User) -> None:
    with pytest.raises(DimensionMismatchError) as refused:
        copy_bill(
            item_code="HALF-L",
            to_item_code="HALF-R",
            replaced={"COLORANT": "THINNER"},
            by=lead,
            at=LATER,
        )
    assert refused.value.facts["replaced_by"] == "THINNER"


def test_a_copy_may_not_contradict_itself(released_bills: None, lead: User) -> None:
    with pytest.raises(LineTwiceError):
        copy_bill(
            item_code="BODY-70",
            to_item_code="BODY-90",
            replaced={"HALF-L": "HALF-R"},
            by=lead,
            at=LATER,
        )
    with pytest.raises(LineOfItselfError):
        copy_bill(item_code="BODY-70", to_item_code="HALF-L", by=lead, at=LATER)


def test_a_bill_of_pieces_is_not_copied_to_a_mixture(released_bills: None, lead: User) -> None:
    with pytest.raises(DimensionMismatchError):
        copy_bill(item_code="HALF-L", to_item_code="GLUE", by=lead, at=LATER)


def test_an_item_out_of_use_gets_no_bill(released_bills: None, lead: User) -> None:
    change_item(code="BODY-90", fields={"is_active": False}, by=lead, at=LATER)
    with pytest.raises(NotActiveError):
        copy_bill(item_code="BODY-70", to_item_code="BODY-90", by=lead, at=LATER)


def test_what_there_is_not_cannot_be_copied(released_bills: None, lead: User) -> None:
    with pytest.raises(NotFoundError):
        copy_bill(item_code="RESIN", to_item_code="BODY-90", by=lead, at=LATER)
    with pytest.raises(NotFoundError):
        copy_bill(item_code="BODY-70", to_item_code="NONE", by=lead, at=LATER)
    with pytest.raises(NotFoundError):
        copy_bill(item_code="BODY-70", to_item_code="BODY-90", copy_of=9, by=lead, at=LATER)


def test_paint_scaled_to_less_than_is_kept_is_refused(floor_ready: None, lead: User) -> None:
    lines = (line("BODY-70", "1 each"), line("PAINT-BASE", "0.000000001 uL"))
    draft_bill("PAINTED-90-SHAD", "PAINTING", *lines, by=lead)
    change_model(code="MINNOW-70", fields={"painted_area_mm2": 3900}, by=lead, at=LATER)
    with pytest.raises(PerPieceAmountError):
        copy_bill(item_code="PAINTED-90-SHAD", to_item_code="PAINTED-70-PERCH", by=lead, at=LATER)
    change_model(code="MINNOW-70", fields={"painted_area_mm2": 3901}, by=lead, at=LATER)
    copied = copy_bill(
        item_code="PAINTED-90-SHAD", to_item_code="PAINTED-70-PERCH", by=lead, at=LATER
    )
    assert amounts(copied)["PAINT-BASE"] == Decimal("0.000000001")


def test_a_copy_is_released_like_any_draft(released_bills: None, lead: User) -> None:
    copy_bill(
        item_code="PAINTED-70-PERCH",
        to_item_code="PAINTED-90-SHAD",
        replaced={"BODY-70": "BODY-90"},
        by=lead,
        at=LATER,
    )
    release_bill(item_code="PAINTED-90-SHAD", number=1, by=lead, at=LATER)
    assert bill_detail("PAINTED-90-SHAD").sheet.state == "current"
