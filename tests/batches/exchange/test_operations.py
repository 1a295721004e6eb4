"""What an import leaves behind, and that a row that cannot be posted leaves nothing."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from batches.exchange.errors import ImportRefusedError
from batches.exchange.operations.importing import import_sheets
from batches.packing.models import Box, CustomerOrder, Shipment, ShipmentLine
from batches.runs.models import Batch, BatchEvent, Entry, EntryFactor, EntryTally
from inventory.catalog.models import Equipment, Item, Offer
from inventory.purchasing.models import ReceiptLine, SupplierOrder
from inventory.stock.models import HeldLot, Lot, Movement, Posting
from shopfloor.models import Change, User
from tests.batches.exchange.conftest import Imports
from tests.batches.exchange.small import CLOCK, SMALL, changed, checked

pytestmark = pytest.mark.django_db


def on_hand(item: str) -> int:
    return sum(Lot.objects.filter(item__code=item).values_list("on_hand_base", flat=True))


def refused_by(imports: Imports, sheets: dict[str, str]) -> Any:
    with pytest.raises(ImportRefusedError) as refused:
        imports(sheets)
    return refused.value.lines


def test_everything_of_the_small_shop_is_there(small_shop: None) -> None:
    assert on_hand("RESIN") == 25_000_000 - 600_000
    assert on_hand("REGRIND") == 104 * 1000
    assert on_hand("HALF") == 100 - 2 * 48
    assert on_hand("MIX") == 30_000 - 48 * 400 - 5_000
    assert on_hand("BODY") == 46 - 46
    assert on_hand("HOOK") == 2000 - 2 * 46
    assert on_hand("LURE") == 45 - 31 - 2


def test_a_batch_was_planned_started_and_completed_at_its_time(small_shop: None) -> None:
    batch = Batch.objects.get(code="MD1")
    events = BatchEvent.objects.filter(batch=batch).order_by("id")
    assert (batch.state, batch.planned_base, str(batch.planned_on)) == (
        "complete", 100, "2026-03-02",
    )  # fmt: skip
    assert [(event.after, event.at) for event in events] == [
        ("running", datetime(2026, 3, 2, 15, 30, tzinfo=UTC)),
        ("complete", datetime(2026, 3, 2, 16, 0, tzinfo=UTC)),
    ]


def test_a_batch_whose_last_row_says_so_still_runs(small_shop: None) -> None:
    batch = Batch.objects.get(code="RG1")
    assert (batch.state, batch.planned_base, batch.entries.count()) == ("running", 45, 2)


def test_an_entry_has_its_tallies_by_station_its_factors_and_who_did_it(small_shop: None) -> None:
    entry = Entry.objects.get(batch__code="GL1")
    tallies = EntryTally.objects.filter(entry=entry).order_by("id")
    factors = EntryFactor.objects.filter(entry=entry).order_by("id")
    assert [
        (tally.grade, tally.scrap_reason and tally.scrap_reason.code, str(tally.equipment)[:4],
         tally.qty_base)
        for tally in tallies
    ] == [
        ("first", None, "W1-1", 12),
        ("first", None, "W1-2", 11),
        ("first", None, "W1-3", 11),
        ("first", None, "W1-4", 12),
        ("", "LEAK", "W1-3", 2),
    ]  # fmt: skip
    assert [(factor.name, factor.value) for factor in factors if factor.name] == [
        ("humidity", "40"),
        ("index_seconds", "15"),
    ]
    assert (entry.done_by.username, entry.minutes) == ("hand", 45)


def test_what_a_run_names_is_taken_and_the_bill_proposes_the_rest(small_shop: None) -> None:
    taken = Movement.objects.filter(posting__entry__batch__code="MX1", qty_base__lt=0)
    assert {(m.lot.code, m.qty_base) for m in taken} == {("ADHA-1", -15_000), ("ADHB-1", -15_000)}


def test_everything_is_dated_when_it_happened_and_recorded_now_by_who_imports(
    small_shop: None, owner: User
) -> None:
    assert set(Posting.objects.values_list("by", "recorded_at")) == {(owner.pk, CLOCK.now)}
    receipt = ReceiptLine.objects.get(lot__code="HOOK-1").receipt
    assert receipt.posting.at == datetime(2026, 3, 3, 14, 0, tzinfo=UTC)


def test_orders_close_as_what_they_asked_for_comes_and_goes(
    small_shop: None, imports: Imports
) -> None:
    assert SupplierOrder.objects.get(code="PO1").state == "closed"
    assert CustomerOrder.objects.get(code="CO1").state == "open"
    assert ReceiptLine.objects.get().lot.value_micro > 0


def test_boxes_are_closed_and_shipped_with_all_in_them_at_the_order_s_price(
    small_shop: None,
) -> None:
    lines = ShipmentLine.objects.order_by("id")
    assert Box.objects.get(code="BX1").state == "shipped"
    assert [
        (line.qty_base, line.lot.grade, line.price_micro, line.purpose)
        for line in lines.filter(box__code="BX1").order_by("-qty_base")
    ] == [
        (22, "first", 6_500_000, "sale"),
        (8, "first", 6_500_000, "sale"),
        (1, "second", 6_500_000, "sale"),
    ]
    assert [(n.qty_base, n.price_micro, n.purpose) for n in lines.filter(box=None)] == [
        (2, 0, "sample")
    ]


def test_a_hold_stops_what_was_made_of_the_lot_and_is_still_here(small_shop: None) -> None:
    held = HeldLot.objects.filter(hold__lot__code="HOOK-1").values_list(
        "lot__item__code", flat=True
    )
    assert sorted(held) == ["HOOK", "LURE", "LURE"]


def test_a_person_who_came_by_a_sheet_cannot_sign_in(small_shop: None) -> None:
    assert not User.objects.get(username="hand").has_usable_password()


def test_master_data_leave_their_trace_in_the_audit(small_shop: None) -> None:
    tables = {"inventory_item": 9, "inventory_supplier": 1, "batches_customer": 1}
    assert {table: Change.objects.filter(table=table).count() for table in tables} == tables


def test_parts_of_a_mold_are_entered_with_it_and_an_offer_has_its_prices(small_shop: None) -> None:
    parts = Equipment.objects.filter(parent__code="M1").values_list("code", flat=True)
    assert sorted(parts) == ["M1-1", "M1-2"]
    prices = Offer.objects.get().prices.values_list("packs_from", "pack_price_micro")
    assert list(prices) == [(1, 45_000_000), (5, 40_000_000)]


def test_sheets_may_come_one_after_the_other(imports: Imports) -> None:
    later = (
        "runs.csv",
        "checks.csv",
        "boxes.csv",
        "shipments.csv",
        "lot_events.csv",
        "complaints.csv",
    )
    imports({name: text for name, text in SMALL.items() if name not in later})
    imports({name: SMALL[name] for name in later})
    assert Shipment.objects.count() == 2


def test_a_run_that_used_more_than_there_was_is_named_and_nothing_is_written(
    imports: Imports,
) -> None:
    sheets = changed("opening_lots.csv", "ADH-B,500,g", "ADH-B,14,g")
    (problem,) = refused_by(imports, sheets)
    assert problem == (
        "runs.csv row 3: There is not enough released material; missing: 1 g of ADH-B. Receive, "
        "mix or release some, or record fewer pieces. (short item ADH-B, missing 1 g)"
    )
    assert (Item.objects.count(), Posting.objects.count(), User.objects.count()) == (0, 0, 1)


def test_a_box_of_more_than_was_left_is_named(imports: Imports) -> None:
    sheets = changed("boxes.csv", "batch:RG1/second,1", "batch:RG1/second,4")
    (problem,) = refused_by(imports, sheets)
    assert problem.startswith("boxes.csv row 3: These lots hold less. (lots L-")
    assert problem.endswith("wanted 4 each; missing 1 each)")


def test_a_shipment_of_a_box_that_is_still_open_is_named(imports: Imports) -> None:
    sheets = {
        **SMALL,
        "boxes.csv": "box,at,lot,pieces,closed\nBX1,2026-03-05 10:00,batch:RG1,30,no\n",
    }
    assert refused_by(imports, sheets) == [
        "shipments.csv row 2: This box is still open. Close it first. (box BX1)"
    ]


def test_a_lot_used_before_it_came_is_named(imports: Imports) -> None:
    sheets = changed("receipts.csv", "2026-03-03 08:00", "2026-03-04 11:00")
    (problem,) = refused_by(imports, sheets)
    assert problem.startswith("runs.csv row 5: There is not enough released material;")


def test_a_bill_in_a_circle_is_named(imports: Imports) -> None:
    sheets = changed("bills.csv", "BODY,GLUE,HALF,,2", "BODY,GLUE,LURE,,2")
    (problem,) = refused_by(imports, sheets)
    assert problem.startswith("bills.csv row 8: The item would be made of itself")


def test_things_of_one_time_are_posted_in_the_order_of_their_sheets(imports: Imports) -> None:
    sheets = changed("receipts.csv", "2026-03-03 08:00", "2026-03-04 10:00")
    imports(sheets)
    assert on_hand("HOOK") == 2000 - 2 * 46


def test_a_row_below_may_have_happened_before(imports: Imports) -> None:
    header, *rows = SMALL["runs.csv"].splitlines(keepends=True)
    imports({**SMALL, "runs.csv": header + "".join(reversed(rows))})
    assert Batch.objects.get(code="RG1").state == "running"
    assert on_hand("LURE") == 45 - 31 - 2


def test_each_row_is_told_once_while_it_is_posted(owner: User) -> None:
    told: list[int] = []
    sheets = checked(SMALL)
    import_sheets(sheets=sheets, by=owner, now=CLOCK.now, on_rows=told.append)
    assert sum(told) == sheets.row_count == 58
