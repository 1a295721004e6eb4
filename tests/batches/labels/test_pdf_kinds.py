"""Hold tags, shelf labels, cartons, count sheets and packing lists: rendered, and read back."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pypdfium2
import pytest
import zxingcpp

from batches.labels.errors import StockTooSmallError
from batches.labels.pdf.writing import WRITERS
from batches.labels.rules.papers import BoxItem, Paper
from batches.labels.rules.papers_packing import (
    CartonLabel,
    PackedBox,
    PackedLine,
    PackedTotal,
    PackingList,
    carton_elements,
)
from batches.labels.rules.papers_stock import (
    HOLD_ADVICE,
    CountLine,
    CountSheet,
    HoldReason,
    HoldTag,
    ShelfLabel,
)
from batches.labels.rules.stock import STANDING, UM_PER_MM, PrintJob, Stock
from tests.batches.labels.conftest import (
    Image,
    drawn,
    ink_um,
    job_on,
    overprinted,
    read,
    rendered,
    words,
)
from tests.batches.labels.samples import box_item

pytestmark = pytest.mark.only_on("sqlite")  # no database has a part in it: once is enough

# Made of the prefix 952, which is for demonstrations and examples only.
GTIN = "09521234000013"
SSCC = "095212345678901235"
LONG = ("An uncommonly long name that no label of any size could hold on one line, at all " * 4)[
    :300
]
LONGEST_LOT = "M" * 24 + ".123456" * 5 + ".1"


def hold(**given: Any) -> HoldTag:
    reason = HoldReason("H-2223", "Eyes fall off", "2026-03-02 09:00", "Olga Owner")
    fields = {
        "code": "L-2227.1",
        "item": "EYE-4",
        "item_name": "Eye, 4 mm",
        "amount": "1200 each",
        "place": "SHELF-A3",
        "reasons": (reason,),
        **given,
    }
    return HoldTag(**fields)


def carton(*items: BoxItem, gtin: str = GTIN, **given: Any) -> CartonLabel:
    lots = ("L-2227.1",)
    fields = {
        "code": "X-2223",
        "elements": carton_elements(sscc=SSCC, gtin=gtin, pieces=24, lots=lots),
        "ship_to": ("A test customer", "1 Test Road", "Testville"),
        "order": "T-2223",
        "carrier": "Test carrier",
        "pieces": 24,
        "items": items or (box_item(),),
        **given,
    }
    return CartonLabel(**fields)


def count(lots: int = 3, **given: Any) -> CountSheet:
    lines = tuple(
        CountLine(f"L-2{number}.1", "EYE-4", "Eye, 4 mm", "each")
        for number in range(200, 200 + lots)
    )
    fields = {"code": "SHELF-A3", "kind": "place", "name": "Shelf A", "lines": lines, **given}
    return CountSheet(printed_at="2026-03-03 09:00", **fields)


def packing(boxes: int = 2, **given: Any) -> PackingList:
    minnows = PackedLine("Minnow 90", "Fire tiger", "MINNOW-1", 24, ("L-2227.1",))
    frogs = PackedLine("Frog", "", "FROG-1", 8, ("L-2228.1 (5)", "L-2229 (3)"), "sample")
    fields = {
        "code": "S-2223",
        "ship_to": ("A test customer", "1 Test Road", "Testville"),
        "order": "T-2223",
        "carrier": "Test carrier",
        "shipped_on": "2026-03-03",
        "boxes": tuple(
            PackedBox(f"X-2{number}", "", SSCC, 32, (minnows, frogs))
            for number in range(200, 200 + boxes)
        ),
        "totals": (
            PackedTotal("Frog", "", "FROG-1", 8 * boxes),
            PackedTotal("Minnow 90", "Fire tiger", "MINNOW-1", 24 * boxes),
        ),
        **given,
    }
    return PackingList(**fields)


PLACE = ShelfLabel(code="SHELF-A3", name="Shelf A, third from the door")
ITEM = ShelfLabel(code="EYE-4", name="Eye, 4 mm", place="SHELF-A3", hint="Reorder at 500 each")
EVERY = (hold(), PLACE, ITEM, carton(), carton(gtin=""), count(), packing())


def takes(stock: Stock, paper: Paper) -> bool:
    writer = WRITERS[type(paper)]
    return (
        stock.label_width_um >= writer.width_mm * UM_PER_MM
        and stock.label_height_um >= writer.height_mm * UM_PER_MM
    )


ON_EVERY_STOCK = [
    (paper, stock.name) for paper in EVERY for stock in STANDING.values() if takes(stock, paper)
]


def scanned(image: Image) -> list[tuple[str, str]]:
    """Kind and data of every symbol, sorted; GS1 data in brackets, as only a GS1 symbol reads."""
    found = read(image, zxingcpp.TextMode.HRI)
    return sorted((symbol.format.name, symbol.text) for symbol in found)


def said(pdf: bytes, page: int = 0) -> str:
    return words(pdf, page).replace("\n", " ")


# --- Symbols ---


def carried(paper: Paper) -> set[str]:
    """What the symbols of a paper must carry, whatever it is printed on."""
    if isinstance(paper, CartonLabel):
        return {paper.elements.human}
    if isinstance(paper, CountSheet):
        return {paper.code, *(line.lot for line in paper.lines)}
    return {paper.code}


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize(("paper", "stock"), ON_EVERY_STOCK)
def test_every_paper_reads_back_from_every_stock_it_goes_on(
    paper: Paper, stock: str, dpi: int
) -> None:
    image = rendered(drawn(paper, on=stock, dpi=dpi, is_demo=True), dpi=dpi)
    read = {text for _, text in scanned(image)}
    halves = {f"(00){SSCC}", f"(02){GTIN}(37)24(10)L-2227.1"}
    assert read in (carried(paper), carried(paper) | {f"(00){SSCC}"}, halves)
    assert isinstance(paper, CartonLabel) or read == carried(paper)


def test_a_carton_of_four_inches_has_its_sscc_in_bars_below_all_in_a_square() -> None:
    assert scanned(rendered(drawn(carton(), on="4x6"), dpi=203)) == [
        ("Code128", f"(00){SSCC}"),
        ("DataMatrix", f"(00){SSCC}(02){GTIN}(37)24(10)L-2227.1"),
    ]


def test_a_carton_on_a_wide_page_has_all_in_bars() -> None:
    assert scanned(rendered(drawn(carton(), on="letter"), dpi=203)) == [
        ("Code128", f"(00){SSCC}"),
        ("Code128", f"(02){GTIN}(37)24(10)L-2227.1"),
    ]


def test_the_text_beside_a_cartons_symbols_is_what_they_carry() -> None:
    text = said(drawn(carton(), on="4x6"))
    assert text.count(f"(00){SSCC}") == 2
    assert f"(02){GTIN} (37)24 (10)L-2227.1" in text


@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_the_longest_code_of_a_lot_scans_from_tag_and_sheet(dpi: int) -> None:
    tag = drawn(hold(code=LONGEST_LOT), on="4x2", dpi=dpi)
    assert scanned(rendered(tag, dpi=dpi)) == [("DataMatrix", LONGEST_LOT)]
    assert LONGEST_LOT in words(tag).replace("\n", "")
    line = CountLine(LONGEST_LOT, "EYE-4", LONG, "each")
    sheet = drawn(count(lines=(line, line._replace(lot="L-2227"))), on="letter", dpi=dpi)
    assert [text for _, text in scanned(rendered(sheet, dpi=dpi))] == sorted(
        ["L-2227", LONGEST_LOT, "SHELF-A3"]
    )


def test_every_lot_of_a_long_count_scans_and_each_page_says_which_it_is() -> None:
    pdf = drawn(count(lots=60), on="letter")
    pages = len(pypdfium2.PdfDocument(pdf))
    read = [text for page in range(pages) for _, text in scanned(rendered(pdf, dpi=203, page=page))]
    assert sorted(read) == sorted(["SHELF-A3", *(f"L-2{number}.1" for number in range(200, 260))])
    feet = [
        f"SHELF-A3, page {number + 1} of {pages}" in words(pdf, number) for number in range(pages)
    ]
    assert feet == [True] * pages
    assert pages == 5


# --- What they say ---


def test_a_hold_tag_says_hold_why_since_when_by_whom_and_what_to_do() -> None:
    text = said(drawn(hold(), on="4x2"))
    for part in (
        "HOLD",
        "L-2227.1",
        "EYE-4 Eye, 4 mm",
        "1200 each at SHELF-A3",
        "Held 2026-03-02 09:00 by Olga Owner (H-2223). Why: Eyes fall off",
        HOLD_ADVICE,
    ):
        assert part in text


def test_a_hold_that_came_down_from_another_lot_names_it() -> None:
    reason = HoldReason("H-2223", "Cracks", "2026-03-02 09:00", "Olga Owner", "L-2226")
    assert "because of lot L-2226. Why: Cracks" in said(drawn(hold(reasons=(reason,)), on="4x6"))


def test_a_shelf_label_of_an_item_says_where_it_is_kept_and_when_to_reorder() -> None:
    text = said(drawn(ITEM, on="2x1"))
    assert all(part in text for part in ("EYE-4", "Eye, 4 mm", "SHELF-A3", "Reorder at 500 each"))
    assert "Kept" not in words(drawn(PLACE, on="2x1"))


def test_a_carton_that_is_not_shipped_has_room_for_the_address() -> None:
    text = said(drawn(carton(ship_to=(), order="", carrier=""), on="4x6"))
    assert "Ship to:" in text
    assert "24 pieces: Minnow 90 Fire tiger, MINNOW-1" in text


def test_a_carton_of_many_items_says_how_many_are_left_out() -> None:
    items = [box_item(number, title=f"Model {number}.") for number in range(20)]
    text = said(drawn(carton(*items, pieces=480, gtin=""), on="4x6"))
    named = sum(f"Model {number}." in text for number in range(20))
    assert 0 < named < 20
    assert f"and {20 - named} more: scan the code" in text
    assert "480 pieces in all" in text


def test_lots_of_a_carton_stand_whole_or_are_counted() -> None:
    lots = tuple(f"L-2{number}.1 (12)" for number in range(200, 260))
    text = said(drawn(carton(box_item(lots=lots)), on="4x6"))
    assert "60 lots" in text
    assert "L-2200" not in text


def test_a_count_sheet_says_no_amounts_and_an_empty_place_says_so() -> None:
    text = said(drawn(count(lots=0), on="letter"))
    assert "By the books nothing is here." in text
    assert "Counted by" in text
    assert text.count("Also here") == 3


def test_a_packing_list_names_boxes_contents_lots_and_totals_and_no_price() -> None:
    text = said(drawn(packing(), on="letter"))
    for part in (
        "Packing list S-2223",
        "Shipped 2026-03-03",
        "Order T-2223",
        "To A test customer",
        "1 Test Road, Testville",
        f"Box X-2200, SSCC (00){SSCC}",
        "Minnow 90 Fire tiger",
        "Frog (sample)",
        "L-2228.1 (5), L-2229 (3)",
        "2 boxes, pieces in all",
        "page 1 of 1",
    ):
        assert part in text
    assert "64" in text.split("pieces in all")[1]
    assert "$" not in text


def test_a_long_packing_list_goes_on_and_no_box_is_named_apart_from_its_contents() -> None:
    pdf = drawn(packing(boxes=60), on="letter")
    pages = [words(pdf, page) for page in range(len(pypdfium2.PdfDocument(pdf)))]
    assert len(pages) > 3
    assert all(sum(f"Box X-2{n}," in page for page in pages) == 1 for n in range(200, 260))
    assert all(page.count("Box X-") <= page.count("MINNOW-1") for page in pages)
    assert all("Packing list S-2223" in page for page in pages)


def test_a_line_of_more_lots_than_a_page_holds_goes_on() -> None:
    lots = tuple(f"L-2{number}.1 (12)" for number in range(200, 500))
    line = PackedLine("Minnow 90", "", "MINNOW-1", 3600, lots)
    box = PackedBox("X-2223", "", "", 3600, (line,))
    pdf = drawn(replace(packing(), boxes=(box,)), on="letter")
    text = " ".join(words(pdf, page) for page in range(len(pypdfium2.PdfDocument(pdf))))
    assert all(lot in text for lot in lots)


@pytest.mark.parametrize("paper", EVERY)
def test_a_made_up_shop_says_demo_and_a_reprint_says_so(paper: Paper) -> None:
    again = replace(paper, print_note="Reprint 2026-11-27")
    text = said(drawn(again, on="letter", is_demo=True))
    assert "DEMO" in text
    assert "Reprint 2026-11-27" in text


@pytest.mark.parametrize(
    ("paper", "stock"),
    [(hold(), "3x1"), (carton(), "3x1"), (count(), "4x6"), (packing(), "letter-6")],
)
def test_stock_that_is_too_small_is_refused_with_the_size_it_takes(
    paper: Paper, stock: str
) -> None:
    with pytest.raises(StockTooSmallError) as refused:
        drawn(paper, on=stock)
    writer = WRITERS[type(paper)]
    assert f"at least {writer.width_mm} x {writer.height_mm} mm" in refused.value.detail


# --- Where it stands ---

NAMED_LONG = (
    hold(
        code=LONGEST_LOT,
        item_name=LONG,
        reasons=(HoldReason("H-2223", LONG, "2026-03-02 09:00", LONG, LONGEST_LOT),) * 4,
        print_note="Reprint 2026-11-27",
    ),
    replace(PLACE, code="W" * 24, name=LONG, print_note="Reprint 2026-11-27"),
    replace(ITEM, code="W" * 24, name=LONG, place="W" * 24),
    carton(
        *(box_item(number, title=LONG, lots=(LONGEST_LOT,) * 9) for number in range(9)),
        code="W" * 24,
        ship_to=(LONG, LONG),
        order="W" * 24,
        carrier=LONG,
    ),
    count(
        name=LONG,
        code="W" * 24,
        lines=(CountLine(LONGEST_LOT, "W" * 24, LONG, "short ton", "W" * 24),) * 5,
    ),
    replace(
        packing(),
        ship_to=(LONG, LONG),
        carrier=LONG,
        order="W" * 24,
        boxes=(
            PackedBox(
                "W" * 24,
                "W" * 24,
                SSCC,
                10**9,
                (PackedLine(LONG, LONG, "W" * 24, 10**9, (LONGEST_LOT,) * 9),),
            ),
        ),
        totals=(PackedTotal(LONG, LONG, "W" * 24, 10**9),),
    ),
)
LONG_ON_EVERY_STOCK = [
    (paper, stock.name)
    for paper in NAMED_LONG
    for stock in STANDING.values()
    if takes(stock, paper)
]


@pytest.mark.parametrize(("paper", "stock"), [*ON_EVERY_STOCK, *LONG_ON_EVERY_STOCK])
def test_nothing_lies_outside_its_label_nor_over_another_part(paper: Paper, stock: str) -> None:
    pdf = drawn(paper, on=stock, shop_name=LONG, is_demo=True)
    job: PrintJob = job_on(stock)
    left, top = job.stock.place_um(0)
    margin = job.stock.margin_um
    assert ink_um(pdf, dpi=203).is_within(
        left + margin,
        top + margin,
        left + job.stock.label_width_um - margin,
        top + job.stock.label_height_um - margin,
    )
    assert overprinted(pdf) == []
