"""Packing: what goes into a box, out of it, and boxes in boxes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches.packing.errors import (
    BoxCycleError,
    BoxEmptyError,
    BoxInBoxError,
    BoxNotClosedError,
    BoxNotOpenError,
    LotInBoxError,
    LotNotInBoxError,
    NotPiecesError,
)
from batches.packing.models import Box
from batches.packing.operations import (
    Part,
    add_to_box,
    close_box,
    pack_box,
    put_box_in,
    reopen_box,
    take_out_of_box,
)
from batches.packing.selectors import (
    BoxRow,
    box_named,
    box_rows,
    boxes,
    contents_of,
)
from batches.runs.errors import NamedTwiceError
from inventory.catalog.errors import DuplicateCodeError
from inventory.catalog.models import Item, Place
from inventory.stock.errors import (
    LotExpiredError,
    LotHeldError,
    LotNotThereYetError,
    LotQuarantinedError,
    LotRejectedError,
    LotShortError,
)
from inventory.stock.models import Lot, Movement, Posting
from inventory.stock.operations import dispose_of_lot, hold_lot, reject_lot
from inventory.stock.selectors.lineage import downstream_ids
from shopfloor.codes.errors import OwnCodeError
from shopfloor.errors import InvalidInputError, NotFoundError
from shopfloor.models import Change, User
from tests.batches.packing.conftest import LATER, MONDAY, StockOf, stamp_at


def row_of(box: Box) -> BoxRow:
    return box_rows([box_named(box.code)])[0]


def in_box(box: Box) -> list[tuple[str, int]]:
    return [(content.lot, content.pieces) for content in row_of(box).lots]


def test_a_part_of_a_lot_becomes_a_lot_of_its_own_in_the_box(lot: Lot, packer: User) -> None:
    box = pack_box(contents=[Part("M1", 24)], stamp=stamp_at(packer))
    assert in_box(box) == [("M1.1", 24)]
    part = Lot.objects.get(code="M1.1")
    assert (part.place_id, part.value_micro) == (box.place_id, 24_000_000)
    lot.refresh_from_db()
    assert (lot.on_hand_base, lot.value_micro) == (76, 76_000_000)


def test_a_whole_lot_moves_into_the_box_without_a_posting(lot: Lot, packer: User) -> None:
    postings = Posting.objects.count()
    box = pack_box(contents=[Part("M1")], stamp=stamp_at(packer))
    assert in_box(box) == [("M1", 100)]
    assert Posting.objects.count() == postings
    assert lot.events.get().after == box.code


def test_naming_all_pieces_of_a_lot_moves_the_whole_lot(lot: Lot, packer: User) -> None:
    assert in_box(pack_box(contents=[Part("M1", 100)], stamp=stamp_at(packer))) == [("M1", 100)]


def test_one_box_takes_several_lots_and_each_part_flows_from_its_own_lot_alone(
    lot: Lot, frogs: Lot, packer: User
) -> None:
    box = pack_box(contents=[Part("M1", 10), Part("F1", 5)], stamp=stamp_at(packer))
    assert in_box(box) == [("M1.1", 10), ("F1.1", 5)]
    assert downstream_ids([lot.pk]) == {lot.pk, Lot.objects.get(code="M1.1").pk}


def test_a_box_without_a_code_gets_one_and_is_a_place(lot: Lot, packer: User) -> None:
    box = pack_box(contents=[Part("M1")], stamp=stamp_at(packer))
    assert box.code.startswith("X-")
    assert (box.place.code, box.place.kind) == (box.code, "box")


def test_the_shop_may_give_a_box_its_code(lot: Lot, packer: User) -> None:
    assert pack_box(contents=[], code="crate-7", stamp=stamp_at(packer)).code == "CRATE-7"


def test_a_code_of_another_place_is_refused(lot: Lot, packer: User) -> None:
    with pytest.raises(DuplicateCodeError):
        pack_box(contents=[], code="SHELF", stamp=stamp_at(packer))


def test_a_code_that_looks_like_one_we_make_is_refused(lot: Lot, packer: User) -> None:
    with pytest.raises(OwnCodeError):
        pack_box(contents=[], code="X-1", stamp=stamp_at(packer))


def test_the_same_lot_twice_is_refused(lot: Lot, packer: User) -> None:
    with pytest.raises(NamedTwiceError):
        pack_box(contents=[Part("M1", 1), Part("M1", 2)], stamp=stamp_at(packer))


def test_more_than_the_lot_holds_is_refused_and_nothing_is_written(
    lot: Lot, frogs: Lot, packer: User
) -> None:
    with pytest.raises(LotShortError) as refused:
        pack_box(contents=[Part("F1", 5), Part("M1", 101)], stamp=stamp_at(packer))
    assert refused.value.facts["lots"] == [
        {
            "lot": "M1",
            "on_hand": {"amount": "100", "unit": "each"},
            "wanted": {"amount": "101", "unit": "each"},
        }
    ]
    assert not Box.objects.exists()
    assert not Place.objects.filter(kind="box").exists()
    assert Movement.objects.filter(lot=frogs).count() == 1


def test_an_emptied_lot_is_refused(lot: Lot, packer: User) -> None:
    dispose_of_lot(lot_code="M1", qty_base=100, stamp=stamp_at(packer, MONDAY))
    with pytest.raises(LotShortError):
        pack_box(contents=[Part("M1")], stamp=stamp_at(packer))


def test_a_held_lot_is_not_packed(lot: Lot, packer: User) -> None:
    hold_lot(lot_code="M1", stamp=stamp_at(packer, MONDAY))
    with pytest.raises(LotHeldError):
        pack_box(contents=[Part("M1", 1)], stamp=stamp_at(packer))


def test_a_rejected_lot_is_not_packed(lot: Lot, packer: User) -> None:
    reject_lot(lot_code="M1", stamp=stamp_at(packer, MONDAY))
    with pytest.raises(LotRejectedError):
        pack_box(contents=[Part("M1", 1)], stamp=stamp_at(packer))


def test_a_quarantined_lot_is_not_packed(stock_of: StockOf, frog: Item, packer: User) -> None:
    lot = stock_of(frog, 5, disposition="quarantined")
    with pytest.raises(LotQuarantinedError):
        pack_box(contents=[Part(lot.code, 1)], stamp=stamp_at(packer))


def test_an_expired_lot_is_not_packed(stock_of: StockOf, frog: Item, packer: User) -> None:
    lot = stock_of(frog, 5, expires_at=MONDAY + timedelta(hours=1))
    with pytest.raises(LotExpiredError):
        pack_box(contents=[Part(lot.code, 1)], stamp=stamp_at(packer))


def test_a_lot_is_not_packed_before_it_came_in(lot: Lot, packer: User) -> None:
    with pytest.raises(LotNotThereYetError):
        pack_box(contents=[Part("M1")], stamp=stamp_at(packer, MONDAY - timedelta(seconds=1)))


def test_only_pieces_are_packed(
    item_of: Callable[..., Item], stock_of: StockOf, packer: User
) -> None:
    paint = item_of("PAINT", kind="paint", dimension="volume", display_unit="mL")
    lot = stock_of(paint, 500)
    with pytest.raises(NotPiecesError):
        pack_box(contents=[Part(lot.code, 1)], stamp=stamp_at(packer))


def test_a_lot_in_a_box_does_not_go_straight_into_another(lot: Lot, packer: User) -> None:
    box = pack_box(contents=[Part("M1")], stamp=stamp_at(packer))
    with pytest.raises(LotInBoxError) as refused:
        pack_box(contents=[Part("M1", 1)], stamp=stamp_at(packer))
    assert refused.value.facts == {"lot": "M1", "box": box.code}


def test_a_lot_that_nobody_has_is_named(lot: Lot, packer: User) -> None:
    with pytest.raises(NotFoundError):
        pack_box(contents=[Part("M2", 1)], stamp=stamp_at(packer))


def test_more_goes_into_an_open_box_and_not_into_a_closed_one(
    lot: Lot, frogs: Lot, packer: User
) -> None:
    box = pack_box(contents=[Part("M1", 10)], stamp=stamp_at(packer))
    add_to_box(box_code=box.code, contents=[Part("F1", 2)], stamp=stamp_at(packer))
    assert in_box(box) == [("M1.1", 10), ("F1.1", 2)]
    close_box(box_code=box.code, stamp=stamp_at(packer))
    with pytest.raises(BoxNotOpenError):
        add_to_box(box_code=box.code, contents=[Part("F1", 2)], stamp=stamp_at(packer))


def test_pieces_come_out_to_a_shelf_as_a_lot_of_their_own(lot: Lot, packer: User) -> None:
    box = pack_box(contents=[Part("M1", 10)], stamp=stamp_at(packer))
    take_out_of_box(
        box_code=box.code,
        contents=[Part("M1.1", 4)],
        place_code="SHELF",
        stamp=stamp_at(packer),
    )
    assert in_box(box) == [("M1.1", 6)]
    assert Lot.objects.get(code="M1.1.1").place.code == "SHELF"


def test_a_held_lot_may_be_taken_out(lot: Lot, packer: User) -> None:
    box = pack_box(contents=[Part("M1", 10)], stamp=stamp_at(packer))
    hold_lot(lot_code="M1", stamp=stamp_at(packer))
    take_out_of_box(
        box_code=box.code, contents=[Part("M1.1")], place_code="SHELF", stamp=stamp_at(packer)
    )
    assert in_box(box) == []
    assert Lot.objects.get(code="M1.1").disposition == "held"


def test_what_is_not_in_the_box_does_not_come_out(lot: Lot, frogs: Lot, packer: User) -> None:
    box = pack_box(contents=[Part("M1", 10)], stamp=stamp_at(packer))
    with pytest.raises(LotNotInBoxError):
        take_out_of_box(
            box_code=box.code, contents=[Part("F1", 1)], place_code="SHELF", stamp=stamp_at(packer)
        )


def test_nothing_comes_out_into_another_box(lot: Lot, packer: User) -> None:
    box = pack_box(contents=[Part("M1", 10)], stamp=stamp_at(packer))
    other = pack_box(contents=[], stamp=stamp_at(packer))
    with pytest.raises(InvalidInputError):
        take_out_of_box(
            box_code=box.code,
            contents=[Part("M1.1")],
            place_code=other.code,
            stamp=stamp_at(packer),
        )


def test_an_empty_box_is_not_closed(lot: Lot, packer: User) -> None:
    box = pack_box(contents=[], stamp=stamp_at(packer))
    with pytest.raises(BoxEmptyError):
        close_box(box_code=box.code, stamp=stamp_at(packer))


def test_a_closed_box_is_reopened_once_and_the_audit_keeps_who_and_why(
    lot: Lot, packer: User
) -> None:
    box = pack_box(contents=[Part("M1", 1)], stamp=stamp_at(packer))
    close_box(box_code=box.code, stamp=stamp_at(packer, reason=""))
    reopened = reopen_box(box_code=box.code, stamp=stamp_at(packer, reason="miscounted"))
    assert reopened.state == "open"
    with pytest.raises(BoxNotClosedError):
        reopen_box(box_code=box.code, stamp=stamp_at(packer))
    kept = Change.objects.filter(row_code=box.code).order_by("pk")
    assert [(change.after, change.by) for change in kept] == [
        ({"state": "closed"}, packer),
        ({"state": "open", "reason": "miscounted"}, packer),
    ]


def test_boxes_stand_in_boxes_and_their_pieces_count(lot: Lot, packer: User) -> None:
    carton = pack_box(contents=[Part("M1", 5)], code="CARTON", stamp=stamp_at(packer))
    inner = pack_box(
        contents=[Part("M1", 12)], code="INNER", parent_code="CARTON", stamp=stamp_at(packer)
    )
    assert row_of(carton).boxes == ["INNER"]
    assert row_of(carton).pieces == 17
    assert (row_of(inner).parent, row_of(inner).pieces) == ("CARTON", 12)
    inside = contents_of([carton, inner])
    assert [content.lot for content in inside[carton.pk].rows] == ["M1.1", "M1.2"]
    assert [content.lot for content in inside[inner.pk].rows] == ["M1.2"]
    assert inside[carton.pk].shipment_id is None


def test_a_box_does_not_stand_in_itself_nor_in_one_that_stands_in_it(packer: User) -> None:
    pack_box(contents=[], code="A", stamp=stamp_at(packer))
    pack_box(contents=[], code="B", parent_code="A", stamp=stamp_at(packer))
    pack_box(contents=[], code="C", parent_code="B", stamp=stamp_at(packer))
    with pytest.raises(BoxCycleError):
        put_box_in(box_code="A", parent_code="A", stamp=stamp_at(packer))
    with pytest.raises(BoxCycleError):
        put_box_in(box_code="A", parent_code="C", stamp=stamp_at(packer))
    assert put_box_in(box_code="C", parent_code="A", stamp=stamp_at(packer)).parent == (
        Box.objects.get(code="A")
    )


def test_a_box_is_taken_out_of_another(packer: User) -> None:
    pack_box(contents=[], code="A", stamp=stamp_at(packer))
    pack_box(contents=[], code="B", parent_code="A", stamp=stamp_at(packer))
    assert put_box_in(box_code="B", parent_code=None, stamp=stamp_at(packer)).parent is None


def test_a_closed_box_keeps_the_boxes_in_it_closed(lot: Lot, packer: User) -> None:
    pack_box(contents=[], code="CARTON", stamp=stamp_at(packer))
    pack_box(contents=[Part("M1", 1)], code="INNER", parent_code="CARTON", stamp=stamp_at(packer))
    with pytest.raises(BoxNotClosedError):
        close_box(box_code="CARTON", stamp=stamp_at(packer))
    close_box(box_code="INNER", stamp=stamp_at(packer))
    close_box(box_code="CARTON", stamp=stamp_at(packer))
    with pytest.raises(BoxInBoxError):
        reopen_box(box_code="INNER", stamp=stamp_at(packer))
    with pytest.raises(BoxInBoxError):
        put_box_in(box_code="INNER", parent_code=None, stamp=stamp_at(packer))
    with pytest.raises(BoxNotOpenError):
        pack_box(contents=[], parent_code="CARTON", stamp=stamp_at(packer))


def test_a_part_costs_one_posting_and_a_whole_lot_two_statements_the_rest_is_constant(
    stock_of: StockOf, frog: Item, packer: User
) -> None:
    for number in range(6):
        stock_of(frog, 10, lot_code=f"L{number}")
    today = stamp_at(packer, LATER)

    def statements(contents: list[Part]) -> int:
        with CaptureQueriesContext(connection) as caught:
            pack_box(contents=contents, stamp=today)
        return len(caught)

    one_part = statements([Part("L0", 1)])
    assert statements([Part("L1", 1), Part("L2", 1), Part("L3", 1)]) == one_part + 2 * 5
    one_whole = statements([Part("L1")])
    assert statements([Part("L2"), Part("L3"), Part("L4")]) == one_whole + 2 * 2


def test_rows_of_any_number_of_boxes_take_at_most_five_statements(
    lot: Lot, packer: User, django_assert_num_queries: Callable[[int], CaptureQueriesContext]
) -> None:
    for number in range(4):
        pack_box(contents=[Part("M1", number + 1)], stamp=stamp_at(packer))
    some = list(boxes())
    with django_assert_num_queries(4):
        rows = box_rows(some)
    assert [row.pieces for row in rows] == [1, 2, 3, 4]
    with django_assert_num_queries(4):
        box_rows(some[:1])
