"""What customers complain of: of a box, a lot, or a model and some days; and what cannot be."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from batches.packing.errors import (
    ComplaintOfOthersError,
    ComplaintReplacedError,
    ComplaintTooLargeError,
    NeverShippedError,
    WentToOthersError,
)
from batches.packing.models import Box, Complaint, Customer
from batches.packing.operations import (
    LooseLot,
    close_box,
    create_customer,
    pack_box,
    reverse_shipment,
)
from batches.packing.selectors import complaint_named, complaint_row, standing_complaints
from batches.runs.models import ScrapReason
from inventory.purchasing.errors import DateImpossibleError
from inventory.stock.models import Lot
from shopfloor.codes.alphabet import encode
from shopfloor.errors import InvalidInputError, NotFoundError, ShopError
from shopfloor.models import User
from tests.batches.packing.conftest import (
    LATER,
    MONDAY,
    NEXT_WEEK,
    SENT_ON,
    TUESDAY,
    Told,
    stamp_at,
)
from tests.batches.packing.sending import ClosedBox, back, send

pytestmark = pytest.mark.usefixtures("leak")


def lots_of(complaint: Complaint) -> list[tuple[str, int]]:
    """The lots that a complaint may be of, as who looks for causes gets them."""
    (row,) = [
        each
        for each in standing_complaints(first_on=SENT_ON, last_on=LATER.date())
        if each.code == complaint.code
    ]
    codes = Lot.objects.in_bulk([line.lot_id for line in row.lots])
    return [(codes[line.lot_id].code, line.pieces) for line in row.lots]


# --- Of what ---


def test_a_complaint_of_a_box_is_of_all_that_left_in_it_and_in_its_boxes(
    customer: Customer, lot: Lot, frogs: Lot, closed_box: ClosedBox, packer: User, told: Told
) -> None:
    pack_box(contents=[], code="PALLET", stamp=stamp_at(packer))
    inner = closed_box(("M1", 10), ("F1", 5), parent_code="PALLET")
    close_box(box_code="PALLET", stamp=stamp_at(packer))
    send(packer, Box.objects.get(code="PALLET"))
    assert lots_of(told(box_code="PALLET", pieces=15)) == [("M1.1", 10), ("F1.1", 5)]
    with pytest.raises(ComplaintTooLargeError) as refused:
        told(box_code=inner.code)
    assert refused.value.facts == {"left": 15, "complained_before": 15, "wanted": 1}


def test_a_complaint_of_a_lot_is_of_the_parts_of_it_that_left(
    customer: Customer, lot: Lot, packer: User, told: Told
) -> None:
    for pieces in (10, 20):
        send(packer, lots=[LooseLot("M1", pieces)])
    assert lots_of(told(lot_code="M1")) == [("M1.1", 10), ("M1.2", 20)]
    assert lots_of(told(lot_code="M1.2")) == [("M1.2", 20)]


def test_a_complaint_of_a_box_and_an_item_in_it_is_of_that_lot(
    customer: Customer, lot: Lot, frogs: Lot, closed_box: ClosedBox, packer: User, told: Told
) -> None:
    box = closed_box(("M1", 10), ("F1", 5))
    of_here = {"box_code": box.code, "item_code": frogs.item.code}
    with pytest.raises(NeverShippedError):
        told(**of_here)
    send(packer, box)
    complaint = told(**of_here, pieces=5)
    assert (complaint.box, complaint.item) == (None, None)
    assert lots_of(complaint) == [("F1.1", 5)]
    with pytest.raises(ComplaintTooLargeError):
        told(**of_here)
    with pytest.raises(InvalidInputError) as refused:
        told(box_code=box.code, item_code="BODY")
    assert refused.value.facts["items"] == sorted([frogs.item.code, lot.item.code])


def test_of_several_lots_of_an_item_in_a_box_one_must_be_named(
    customer: Customer, lot: Lot, closed_box: ClosedBox, packer: User, told: Told
) -> None:
    pack_box(contents=[], code="PALLET", stamp=stamp_at(packer))
    for pieces in (10, 5):
        closed_box(("M1", pieces), parent_code="PALLET")
    close_box(box_code="PALLET", stamp=stamp_at(packer))
    send(packer, Box.objects.get(code="PALLET"))
    with pytest.raises(InvalidInputError) as refused:
        told(box_code="PALLET", item_code=lot.item.code)
    assert refused.value.facts["lots"] == ["M1.1", "M1.2"]
    assert not Complaint.objects.exists()


@pytest.mark.parametrize("named", [{"model_code": "MINNOW-90"}, {"item_code": "MINNOW"}])
def test_a_complaint_of_a_model_or_item_is_of_what_left_in_those_days(
    customer: Customer, lot: Lot, frogs: Lot, packer: User, told: Told, named: Any
) -> None:
    for days in (0, 3, 6):
        at = stamp_at(packer, TUESDAY + timedelta(days=days))
        send(packer, lots=[LooseLot("M1", 10), LooseLot("F1", 1)], stamp=at)
    named |= {"bought_first_on": SENT_ON, "bought_last_on": SENT_ON + timedelta(days=3)}
    assert lots_of(told(**named, pieces=20)) == [("M1.1", 10), ("M1.2", 10)]
    with pytest.raises(ComplaintTooLargeError):
        told(**named, pieces=21)


def test_what_left_after_it_was_told_is_not_meant(sent: Lot, packer: User, told: Told) -> None:
    at = stamp_at(packer, TUESDAY + timedelta(days=20))
    send(packer, lots=[LooseLot("M1", 50)], stamp=at)
    assert lots_of(told(lot_code="M1")) == [("M1.1", 10)]


# --- What cannot be ---


def refused(told: Told, error: type[ShopError], **given: Any) -> ShopError:
    with pytest.raises(error) as caught:
        told(**given)
    assert Complaint.objects.count() == 0
    return caught.value


ONE_OF_FOUR = [
    {},
    {"box_code": "X", "lot_code": "M1"},
    {"lot_code": "M1", "model_code": "MINNOW-90"},
    {"model_code": "MINNOW-90"},
    {"model_code": "MINNOW-90", "bought_first_on": SENT_ON},
    {"lot_code": "M1", "bought_first_on": SENT_ON, "bought_last_on": SENT_ON},
]


@pytest.mark.parametrize("named", ONE_OF_FOUR)
def test_it_names_one_thing_and_a_model_its_days(sent: Lot, told: Told, named: Any) -> None:
    refused(told, InvalidInputError, **named)


UNKNOWN = [
    {"lot_code": "NONE"},
    {"box_code": "NONE"},
    {"lot_code": "M1", "defect_code": "NONE"},
    {"lot_code": "M1", "customer_code": "NONE"},
    {"lot_code": "M1", "replaces": encode(7, "W")},
    {"item_code": "NONE", "bought_first_on": SENT_ON, "bought_last_on": SENT_ON},
    {"model_code": "NONE", "bought_first_on": SENT_ON, "bought_last_on": SENT_ON},
]


@pytest.mark.parametrize("named", UNKNOWN)
def test_what_is_not_here_is_not_complained_of(sent: Lot, told: Told, named: Any) -> None:
    refused(told, NotFoundError, **named)


def test_a_lot_that_never_left_says_where_it_is(lot: Lot, told: Told) -> None:
    error = refused(told, NeverShippedError, lot_code="M1")
    assert error.facts["here"] == [{"lot": "M1", "place": "SHELF"}]
    assert "at SHELF" in error.detail


def test_a_box_that_never_left_says_where_it_is(
    lot: Lot, closed_box: ClosedBox, packer: User, told: Told
) -> None:
    pack_box(contents=[], code="PALLET", stamp=stamp_at(packer))
    box = closed_box(("M1", 10), parent_code="PALLET")
    error = refused(told, NeverShippedError, box_code=box.code)
    assert (error.facts["state"], error.facts["parent"]) == ("closed", "PALLET")


def test_what_was_reversed_never_left(
    customer: Customer, lot: Lot, packer: User, told: Told
) -> None:
    shipment = send(packer, lots=[LooseLot("M1", 10)])
    reverse_shipment(shipment_code=shipment.code, stamp=stamp_at(packer))
    refused(told, NeverShippedError, lot_code="M1")


def test_it_is_told_on_the_day_it_left_at_the_earliest(sent: Lot, told: Told) -> None:
    refused(told, NeverShippedError, lot_code="M1", told_on=SENT_ON - timedelta(days=1))
    assert told(lot_code="M1", told_on=SENT_ON).told_on == SENT_ON


def test_it_is_told_today_at_the_latest(sent: Lot, told: Told) -> None:
    today = LATER.date()
    refused(told, DateImpossibleError, lot_code="M1", told_on=today + timedelta(days=1))
    assert told(lot_code="M1", told_on=None).told_on == today


def test_it_is_bought_before_it_is_told(sent: Lot, told: Told) -> None:
    days = [SENT_ON, SENT_ON + timedelta(days=1), NEXT_WEEK + timedelta(days=1)]
    for first, last in ((days[1], days[0]), (days[0], days[2])):
        named = {"item_code": "MINNOW", "bought_first_on": first, "bought_last_on": last}
        refused(told, DateImpossibleError, **named)
    refused(
        told, NeverShippedError, item_code="MINNOW", bought_first_on=days[1], bought_last_on=days[1]
    )


def test_a_customer_complains_of_what_went_to_that_customer(
    sent: Lot, packer: User, told: Told
) -> None:
    create_customer(code="OWL", name="Another", stamp=stamp_at(packer, MONDAY))
    error = refused(told, WentToOthersError, lot_code="M1", customer_code="OWL")
    assert error.facts["went_to"] == ["HEN"]
    assert told(lot_code="M1", customer_code="HEN").customer is not None


def test_no_more_pieces_of_a_lot_have_a_defect_than_left(sent: Lot, told: Told) -> None:
    told(lot_code="M1.1", pieces=9)
    for code in ("M1", "M1.1"):
        with pytest.raises(ComplaintTooLargeError) as caught:
            told(lot_code=code, pieces=2)
        assert caught.value.facts == {"left": 10, "complained_before": 9, "wanted": 2}
    told(lot_code="M1", pieces=1)
    told(lot_code="M1", pieces=10, defect_code="PEEL")  # a piece may have two defects
    with pytest.raises(ComplaintTooLargeError):
        told(lot_code="M1.1", pieces=1)


# --- Replaced ---


def test_one_written_down_wrongly_is_replaced_once_and_no_longer_counts(
    sent: Lot, told: Told
) -> None:
    wrong = told(lot_code="M1", pieces=10)
    right = told(lot_code="M1", pieces=8, replaces=wrong.code.lower())
    with pytest.raises(ComplaintReplacedError) as caught:
        told(lot_code="M1", pieces=1, replaces=wrong.code)
    assert caught.value.facts == {"replaces": wrong.code, "replaced_by": right.code}
    row = complaint_row(complaint_named(wrong.code))
    assert (row.replaces, row.replaced_by) == (None, right.code)
    standing = standing_complaints(first_on=SENT_ON, last_on=NEXT_WEEK)
    assert [(each.code, each.pieces) for each in standing] == [(right.code, 8)]
    assert told(lot_code="M1", pieces=2).pieces == 2


@pytest.mark.parametrize(
    "columns",
    [
        {"pieces": 0},
        {"box": None},
        {"bought_first_on": SENT_ON, "bought_last_on": SENT_ON},
        {"lot": None, "item": True},
        {"lot": None, "item": True, "bought_first_on": SENT_ON},
        {
            "lot": None,
            "item": True,
            "bought_first_on": NEXT_WEEK,
            "bought_last_on": SENT_ON,
        },
    ],
)
def test_the_database_refuses_one_that_cannot_be(
    lot: Lot, leak: ScrapReason, packer: User, columns: Any
) -> None:
    row: Any = {"defect": leak, "pieces": 1, "told_on": NEXT_WEEK, "lot": lot}
    row |= {"by": packer, "recorded_at": LATER} | columns
    if "box" in columns:
        row["lot"] = None
    if "item" in columns:
        row["item"] = lot.item
    with pytest.raises(IntegrityError), transaction.atomic():
        Complaint.objects.create(**row)


# --- Read by others ---


def test_standing_complaints_are_those_of_a_defect_and_its_days_in_few_statements(
    customer: Customer, lot: Lot, frogs: Lot, closed_box: ClosedBox, packer: User, told: Told
) -> None:
    box = closed_box(("M1", 10))
    send(packer, box, lots=[LooseLot("F1", 5)])
    day = {"bought_first_on": SENT_ON, "bought_last_on": SENT_ON}
    for _ in range(2):
        told(box_code=box.code, pieces=2)
        told(lot_code="F1", pieces=1, defect_code="PEEL")
        told(model_code="MINNOW-90", told_on=SENT_ON, **day)
        told(item_code="FROG", told_on=SENT_ON + timedelta(days=9), **day)
    with CaptureQueriesContext(connection) as asked:
        found = standing_complaints(first_on=SENT_ON, last_on=NEXT_WEEK, defect="LEAK")
    assert [(each.told_on, each.pieces, each.is_narrow) for each in found] == [
        (SENT_ON, 1, False),
        (SENT_ON, 1, False),
        (NEXT_WEEK, 2, True),
        (NEXT_WEEK, 2, True),
    ]
    assert {line.item for each in found for line in each.lots} == {"MINNOW"}
    assert found[0].lot_ids == found[2].lot_ids == {Lot.objects.get(code="M1.1").pk}
    assert len(asked) <= 4
    with CaptureQueriesContext(connection) as asked:
        found = standing_complaints(first_on=SENT_ON, last_on=LATER.date())
    assert (len(found), len(asked)) == (8, 4)


# --- Returned ---


def test_a_return_names_the_complaint_it_came_back_for(sent: Lot, packer: User, told: Told) -> None:
    complaint = told(lot_code="M1", pieces=2)
    at = stamp_at(packer, LATER)
    returned = back(
        packer, sent.shipment_lines.get().shipment, ("M1.1", 2), complaint_code=complaint.code,
        stamp=at,
    )  # fmt: skip
    assert returned.complaint == complaint
    assert complaint_row(complaint_named(complaint.code)).returns == [returned.posting.code]


def test_a_return_does_not_name_a_complaint_of_other_lots(
    sent: Lot, frogs: Lot, packer: User, told: Told
) -> None:
    send(packer, lots=[LooseLot("F1", 5)])
    complaint = told(lot_code="F1")
    shipment = sent.shipment_lines.get().shipment
    with pytest.raises(ComplaintOfOthersError) as caught:
        back(packer, shipment, ("M1.1", 2), complaint_code=complaint.code, stamp=stamp_at(packer))
    assert caught.value.facts == {"complaint": complaint.code, "lots": ["M1.1"]}
    sent.refresh_from_db()
    assert sent.on_hand_base == 0
