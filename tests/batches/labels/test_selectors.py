"""What papers say, read for one and for many: order, refusals, and how many statements it takes."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.test.utils import CaptureQueriesContext

from batches.labels.errors import NotOnHoldError, SsccMissingError
from batches.labels.rules.papers_packing import PackedBox, PackedLine, PackedTotal
from batches.labels.rules.papers_stock import CountLine, HoldReason
from batches.labels.selectors.boxes import box_labels, carton_labels
from batches.labels.selectors.holds import hold_tags
from batches.labels.selectors.lots import lot_labels
from batches.labels.selectors.shelves import count_sheets, item_labels, place_labels
from batches.labels.selectors.shipments import packing_lists
from batches.packing.errors import ShipmentReversedError
from batches.packing.models import Box, Purpose, Shipment
from batches.packing.operations import (
    LooseLot,
    Part,
    allot_ssccs,
    close_box,
    create_customer,
    enter_customer_order,
    pack_box,
    reverse_shipment,
    ship,
)
from batches.packing.operations import OrderLine as OrderedLine
from batches.packing.selectors import ssccs_of
from inventory.catalog.operations import change_item, create_place
from inventory.reorder.operations import set_reorder_policy
from inventory.stock.models import Lot
from inventory.stock.operations import hold_lot, open_lot, release_hold
from shopfloor.errors import NotFoundError
from shopfloor.fields import Amount
from shopfloor.models import User
from tests.batches.labels.conftest import MONDAY, TUESDAY, stamp_at, take_in

StockOf = Callable[..., Lot]
Queries = Callable[[int], CaptureQueriesContext]

# Made of the prefix 952, which is for demonstrations and examples only.
GTIN = "09521234000013"


def sscc(owner: User, *codes: str) -> str:
    """Allot SSCCs to boxes; that of the first."""
    allot_ssccs(box_codes=codes, stamp=stamp_at(owner))
    return ssccs_of(codes)[codes[0]]


@pytest.fixture
def minnows(stock_of: StockOf) -> Lot:
    return stock_of("MINNOW", lot_code="M1", model="MINNOW-90", colorway="TIGER")


@pytest.fixture
def boxes(owner: User, minnows: Lot, stock_of: StockOf) -> list[Box]:
    """A carton of 5 minnows and 2 frogs with a box of 10 more minnows in it, and one of 3."""
    take_in(owner, "MINNOW", 10, lot_code="M2")
    stock_of("FROG", 50, lot_code="F1")
    carton = pack_box(contents=[Part("M1", 5), Part("F1", 2)], code="CARTON", stamp=stamp_at(owner))
    inner = pack_box(
        contents=[Part("M2")], code="INNER", parent_code="CARTON", stamp=stamp_at(owner)
    )
    small = pack_box(contents=[Part("M1", 3)], code="SMALL", stamp=stamp_at(owner))
    return [carton, inner, small]


def test_stickers_come_in_the_order_asked_and_twice_if_asked_twice(
    owner: User, minnows: Lot, stock_of: StockOf, django_assert_num_queries: Queries
) -> None:
    stock_of("HOOK", lot_code="H1", supplier_lot_code="a8871/2", kind="hook")
    with django_assert_num_queries(4):
        labels = lot_labels(["M1", "H1", "M1"])
    assert [label.code for label in labels] == ["M1", "H1", "M1"]
    assert labels[1].dates == ("On hand since", "2026-03-02")
    assert labels[1].supplier_lot == "a8871/2"


@pytest.mark.parametrize(
    ("minutes", "life"),
    [
        (None, ""),
        (43_200, "30 days"),
        (1_440, "1 day"),
        (480, "8 hours"),
        (45, "45 minutes"),
        (61, "61 minutes"),
    ],
)
def test_a_sticker_says_how_long_it_keeps_once_open_and_since_when(
    owner: User, stock_of: StockOf, minutes: int | None, life: str
) -> None:
    stock_of("GLUE", lot_code="G1", kind="adhesive")
    change_item(code="GLUE", fields={"opened_life_minutes": minutes}, by=owner, at=MONDAY)
    (closed,) = lot_labels(["G1"])
    assert (closed.opened_life, closed.opened, closed.discard_by) == (life, "", "")
    open_lot(lot_code="G1", stamp=stamp_at(owner))
    (opened,) = lot_labels(["G1"])
    assert opened.opened == "2026-03-03 09:00"
    assert bool(opened.discard_by) == bool(life)


def test_all_codes_that_nothing_has_are_named_at_once(owner: User, minnows: Lot) -> None:
    with pytest.raises(NotFoundError) as refused:
        lot_labels(["NO-1", "M1", "NO-2", "NO-1"])
    assert refused.value.facts == {"codes": ["NO-1", "NO-2"], "missing": 2}
    assert "any of these 2 codes: NO-1, NO-2." in refused.value.detail


def test_a_refusal_names_twenty_codes_and_counts_the_rest(owner: User) -> None:
    with pytest.raises(NotFoundError) as refused:
        place_labels([f"NO-{number}" for number in range(21)])
    assert refused.value.facts["missing"] == 21
    assert refused.value.facts["codes"] == [f"NO-{number}" for number in range(20)]
    assert "NO-19 and 1 more." in refused.value.detail


def test_box_labels_count_the_boxes_in_them_and_every_lot(
    boxes: list[Box], django_assert_num_queries: Queries
) -> None:
    with django_assert_num_queries(7):
        small, carton = box_labels(["SMALL", "CARTON"])
    assert (small.pieces, [item.lots for item in small.items]) == (3, [("M1.2",)])
    assert carton.pieces == 17
    assert [(item.item, item.title, item.pieces, item.lots) for item in carton.items] == [
        ("MINNOW", "Minnow 90", 15, ("M2 (10)", "M1.1 (5)")),
        ("FROG", "Lure FROG", 2, ("F1.1",)),
    ]


# --- Cartons ---


def test_a_carton_of_one_article_and_lot_says_both_in_its_symbols(
    owner: User, boxes: list[Box]
) -> None:
    change_item(code="MINNOW", fields={"gtin": GTIN}, by=owner, at=MONDAY)
    number = sscc(owner, "SMALL")
    (label,) = carton_labels(["SMALL"])
    assert label.elements.human == f"(00){number}(02){GTIN}(37)3(10)M1.2"
    assert label.ship_to == ()


def test_a_carton_of_several_articles_carries_its_sscc_alone(
    owner: User, boxes: list[Box], django_assert_num_queries: Queries
) -> None:
    change_item(code="MINNOW", fields={"gtin": GTIN}, by=owner, at=MONDAY)
    number = sscc(owner, "CARTON")
    with django_assert_num_queries(8):
        (label,) = carton_labels(["CARTON"])
    assert label.elements.human == f"(00){number}"
    assert (label.sscc, label.pieces) == (number, 17)


def test_cartons_without_an_sscc_are_refused_and_all_are_named(
    owner: User, boxes: list[Box]
) -> None:
    sscc(owner, "SMALL")
    with pytest.raises(SsccMissingError) as refused:
        carton_labels(["INNER", "SMALL", "CARTON"])
    assert refused.value.facts == {"codes": ["INNER", "CARTON"], "refused": 2}


def test_a_carton_that_left_says_to_whom(
    owner: User, sent: Shipment, boxes: list[Box], django_assert_num_queries: Queries
) -> None:
    sscc(owner, "CARTON", "INNER")
    with django_assert_num_queries(9):
        carton, inner = carton_labels(["CARTON", "INNER"])
    assert carton.ship_to == ("A test customer", "1 Test Road", "Testville")
    assert carton.ship_to == inner.ship_to
    assert (carton.order, inner.order) == (str(sent.order), str(sent.order))
    assert (carton.carrier, carton.pieces) == ("Test carrier", 17)


# --- Hold tags ---


def test_a_hold_tag_says_why_since_when_and_by_whom(
    owner: User, minnows: Lot, django_assert_num_queries: Queries
) -> None:
    hold = hold_lot(lot_code="M1", stamp=stamp_at(owner, reason="Eyes fall off"))
    with django_assert_num_queries(2):
        (tag,) = hold_tags(["M1"])
    assert (tag.item, tag.amount, tag.place) == ("MINNOW", "100 pieces", "SHELF")
    assert tag.reasons == (
        HoldReason(hold.code, "Eyes fall off", "2026-03-03 09:00", "Olga Owner"),
    )


def test_a_lot_made_of_a_held_one_names_it(owner: User, boxes: list[Box]) -> None:
    hold_lot(lot_code="M1", stamp=stamp_at(owner, reason="Eyes fall off"))
    (tag,) = hold_tags(["M1.1"])
    assert [reason.source for reason in tag.reasons] == ["M1"]


def test_a_tag_for_a_lot_that_nothing_holds_is_refused(owner: User, minnows: Lot) -> None:
    hold = hold_lot(lot_code="M1", stamp=stamp_at(owner))
    release_hold(hold_code=hold.code, stamp=stamp_at(owner))
    with pytest.raises(NotOnHoldError) as refused:
        hold_tags(["M1"])
    assert refused.value.facts == {"codes": ["M1"], "refused": 1}


# --- Shelves and counts ---


def test_a_shelf_label_names_the_place(owner: User, django_assert_num_queries: Queries) -> None:
    with django_assert_num_queries(1):
        (label,) = place_labels(["SHELF"])
    assert (label.code, label.name, label.place, label.hint) == ("SHELF", "Shelf", "", "")


def test_a_shelf_label_of_an_item_says_when_to_reorder_only_if_somebody_set_it(
    owner: User, minnows: Lot, stock_of: StockOf, django_assert_num_queries: Queries
) -> None:
    stock_of("FROG")
    point = Amount(Decimal(40), "each")
    set_reorder_policy(item_code="MINNOW", fields={"reorder_point": point}, by=owner, at=MONDAY)
    with django_assert_num_queries(2):
        frog, minnow = item_labels(["FROG", "MINNOW"])
    assert (frog.place, frog.hint) == ("SHELF", "")
    assert (minnow.place, minnow.hint) == ("SHELF", "Reorder at 40 pieces")


def test_a_count_sheet_of_a_place_lists_its_lots_and_no_amounts(
    owner: User, boxes: list[Box], django_assert_num_queries: Queries
) -> None:
    with django_assert_num_queries(2):
        (sheet,) = count_sheets(["SHELF"], at=TUESDAY)
    assert (sheet.kind, sheet.name, sheet.printed_at) == ("place", "Shelf", "2026-03-03 09:00")
    assert sheet.lines == (
        CountLine("F1", "FROG", "Lure FROG", "each"),
        CountLine("M1", "MINNOW", "Lure MINNOW", "each"),
    )


def test_a_count_sheet_of_an_item_says_where_each_lot_is(
    owner: User, boxes: list[Box], django_assert_num_queries: Queries
) -> None:
    create_place(code="EMPTY", fields={"name": "Empty", "kind": "shelf"}, by=owner, at=MONDAY)
    with django_assert_num_queries(4):
        item, empty = count_sheets(["FROG", "EMPTY"], at=TUESDAY)
    assert [(line.lot, line.place) for line in item.lines] == [("F1.1", "CARTON"), ("F1", "SHELF")]
    assert (empty.kind, empty.lines) == ("place", ())


# --- Packing lists ---


@pytest.fixture
def sent(owner: User, boxes: list[Box]) -> Shipment:
    """The carton with the box in it, and a loose part as a sample."""
    create_customer(
        code="HEN",
        name="A test customer",
        address="1 Test Road\nTestville",
        stamp=stamp_at(owner),
    )
    order = enter_customer_order(
        customer_code="HEN",
        lines=[OrderedLine("MINNOW", 15, 1), OrderedLine("FROG", 2, 1)],
        stamp=stamp_at(owner),
    )
    for code in ("INNER", "CARTON"):
        close_box(box_code=code, stamp=stamp_at(owner))
    return ship(
        customer_code="HEN",
        order_code=order.code,
        box_codes=["CARTON"],
        lots=[LooseLot("F1", 4, purpose=Purpose.SAMPLE)],
        carrier="Test carrier",
        stamp=stamp_at(owner),
    )


def test_a_packing_list_goes_box_by_box_and_adds_up(
    owner: User, sent: Shipment, django_assert_num_queries: Queries
) -> None:
    number = sscc(owner, "CARTON")
    with django_assert_num_queries(3):
        (paper,) = packing_lists([sent.code])
    frogs = PackedLine("Lure FROG", "", "FROG", 2, ("F1.1",))
    assert paper.ship_to == ("A test customer", "1 Test Road", "Testville")
    assert (paper.carrier, paper.shipped_on, paper.pieces) == ("Test carrier", "2026-03-03", 21)
    assert paper.boxes == (
        PackedBox(
            "CARTON",
            "",
            number,
            7,
            (PackedLine("Minnow 90", "Fire tiger", "MINNOW", 5, ("M1.1",)), frogs),
        ),
        PackedBox(
            "INNER",
            "CARTON",
            "",
            10,
            (PackedLine("Minnow 90", "Fire tiger", "MINNOW", 10, ("M2",)),),
        ),
        PackedBox(
            "",
            "",
            "",
            4,
            (PackedLine("Lure FROG", "", "FROG", 4, ("F1.2",), "sample"),),
        ),
    )
    assert paper.totals == (
        PackedTotal("Lure FROG", "", "FROG", 6),
        PackedTotal("Minnow 90", "Fire tiger", "MINNOW", 15),
    )


def test_a_shipment_that_was_taken_back_has_no_list(owner: User, sent: Shipment) -> None:
    reverse_shipment(shipment_code=sent.code, stamp=stamp_at(owner))
    with pytest.raises(ShipmentReversedError) as refused:
        packing_lists([sent.code])
    assert refused.value.facts == {"codes": [sent.code], "refused": 1}
