"""What happened to lots by hand, as lot_events.csv tells it."""

from __future__ import annotations

from typing import Any

import pytest

from batches.exchange.errors import ImportRefusedError
from inventory.stock.models import Hold, Lot, Posting
from tests.batches.exchange.conftest import Imports

pytestmark = pytest.mark.django_db

HEADER = "at,lot,event,amount,unit,place,reason\n"


def event(imports: Imports, row: str) -> None:
    imports({"lot_events.csv": f"{HEADER}2026-03-20 09:00,{row}\n"})


def refused(imports: Imports, row: str) -> str:
    with pytest.raises(ImportRefusedError) as refusal:
        event(imports, row)
    problems: Any = refusal.value.lines
    assert len(problems) == 1
    return str(problems[0])


def test_one_container_of_a_lot_is_opened_as_a_lot_of_its_own(
    small_shop: None, imports: Imports
) -> None:
    event(imports, "ADHB-1,open,50,g,,")
    part = Lot.objects.get(code="ADHB-1.1")
    assert (part.on_hand_base, part.opened_at is not None) == (50_000, True)
    assert Lot.objects.get(code="ADHB-1").opened_at is None
    assert refused(imports, "ADHB-1.1,open,,,,").startswith(
        "lot_events.csv row 2: This lot was opened before."
    )


def test_a_part_is_moved_and_the_rest_stays(small_shop: None, imports: Imports) -> None:
    moved = Lot.objects.get(code="RES-1.1")
    assert (moved.place.code, moved.on_hand_base) == ("BENCH", 5_000_000)
    event(imports, "RES-1,move,,,BENCH,")
    assert Lot.objects.get(code="RES-1").place.code == "BENCH"
    assert refused(imports, "RES-1,move,,,BENCH,again") == (
        "lot_events.csv row 2: The lot is there already."
    )


def test_boxes_are_filled_by_packing_alone(small_shop: None, imports: Imports) -> None:
    imports({"boxes.csv": "box,at,lot,pieces,closed\nBX2,2026-03-05 17:00,batch:RG1,1,no\n"})
    boxed = Lot.objects.get(place__code="BX2")
    assert "box" in refused(imports, "RES-1,move,,,BX2,")
    assert refused(imports, f"{boxed.code},move,,,SHELF,") == (
        "lot_events.csv row 2: The lot is in a box. (box BX2)"
    )


def test_what_is_left_is_thrown_out_once(small_shop: None, imports: Imports) -> None:
    event(imports, "ADHB-1,dispose,85,g,,spilled")
    assert Lot.objects.get(code="ADHB-1").on_hand_base == 400_000
    event(imports, "batch:MX1,dispose,,,,left in the pot")
    event(imports, "ADHB-1,dispose,,,,old")
    assert Lot.objects.get(code="ADHB-1").on_hand_base == 0
    assert set(Posting.objects.filter(kind="disposed").values_list("outside_kind", "reason")) == {
        ("loss", "spilled"),
        ("loss", "left in the pot"),
        ("loss", "old"),
    }
    assert refused(imports, "ADHB-1,dispose,,,,very old") == (
        "lot_events.csv row 2: Nothing is left of the lot."
    )


def test_a_release_ends_the_hold_of_the_lot_and_of_what_it_flowed_into(
    small_shop: None, imports: Imports
) -> None:
    lure = Lot.objects.filter(item__code="LURE", disposition="held").first()
    assert lure is not None
    assert refused(imports, f"{lure.code},release,,,,good").startswith(
        "lot_events.csv row 2: Holds of other lots keep this one."
    )
    event(imports, "HOOK-1,release,,,,pulled again")
    assert Hold.objects.get().release.reason == "pulled again"
    assert not Lot.objects.filter(disposition="held").exists()


def test_a_lot_that_waits_for_its_test_is_released(small_shop: None, imports: Imports) -> None:
    imports(
        {
            "opening_lots.csv": "at,item,amount,unit,lot,disposition\n"
            "2026-03-19 09:00,HOOK,10,each,HOOK-9,quarantined\n"
        }
    )
    event(imports, "HOOK-9,release,,,,good")
    assert Lot.objects.get(code="HOOK-9").disposition == "released"
    assert "The lot is released already." in refused(imports, "HOOK-9,release,,,,good again")


def test_nothing_happens_to_a_lot_before_it_came(small_shop: None, imports: Imports) -> None:
    with pytest.raises(ImportRefusedError) as refusal:
        imports({"lot_events.csv": f"{HEADER}2026-03-02 09:00,HOOK-1,hold,,,,doubt\n"})
    assert "The lot came in after the time given." in str(refusal.value.lines)
