"""What was found on pieces, as checks.csv, complaints.csv and returns.csv tell it."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest

from batches.exchange.errors import ImportRefusedError
from batches.packing.models import Complaint, CustomerReturn
from batches.quality.models import Check, CheckDefinition, CheckResult
from inventory.stock.models import Hold, Lot
from tests.batches.exchange.conftest import Imports
from tests.batches.exchange.small import changed, problems_in

pytestmark = pytest.mark.django_db

CHECKS = "at,check,lot,entry_at,results\n"
COMPLAINTS = "told_on,defect,pieces,customer,box,lot,item,model,bought_first_on,bought_last_on\n"
RETURNS = "at,box,lot,pieces,place,defect,disposed\n"
EVENTS = "at,lot,event,reason\n"


def check(imports: Imports, row: str) -> None:
    imports({"checks.csv": f"{CHECKS}2026-03-20 09:00,{row}\n"})


def complaint(imports: Imports, row: str) -> None:
    imports({"complaints.csv": f"{COMPLAINTS}2026-03-25,LEAK,{row}\n"})


def refused(imports: Imports, sheet: str, row: str) -> str:
    with pytest.raises(ImportRefusedError) as refusal:
        (check if sheet == "checks" else complaint)(imports, row)
    problems: Any = refusal.value.lines
    assert len(problems) == 1
    return str(problems[0])


def test_definitions_checks_and_complaints_of_the_small_shop_are_there(small_shop: None) -> None:
    dunk = CheckDefinition.objects.get(code="DUNK")
    assert (dunk.level, dunk.aql, dunk.defect is not None) == ("S3", "1.0", True)
    weigh = CheckDefinition.objects.get(code="WEIGH")
    assert (weigh.lower, weigh.fixed_pieces, weigh.accept_pieces) == (Decimal("4.5"), 3, 1)
    weighed, dunked = Check.objects.order_by("pk")
    assert (weighed.batch.code, weighed.lot, weighed.tested, weighed.failed) == ("MD1", None, 3, 1)
    assert dunked.lot is not None
    assert (dunked.at, dunked.reason) == (datetime(2026, 3, 3, 16, 20, tzinfo=UTC), "all dry")
    found = CheckResult.objects.order_by("pk").values_list("equipment__code", "tested", "value")
    assert list(found) == [
        ("M1-1", 1, Decimal("5.01")),
        ("M1-2", 1, Decimal("4.98")),
        (None, 1, Decimal("4.4")),
        ("W1-3", 4, None),
        (None, 16, None),
    ]
    of_box, of_model = Complaint.objects.order_by("pk")
    assert of_box.box is not None
    assert (of_box.box.code, of_box.pieces, of_box.note) == ("BX1", 2, "took water")
    assert of_model.model is not None
    assert (of_model.customer, of_model.bought_last_on) == (None, date(2026, 3, 10))


def test_a_check_that_fails_holds_and_a_release_lets_go_what_was_stopped_alone(
    small_shop: None, imports: Imports
) -> None:
    imports(
        {
            "runs.csv": "batch,item,at,good\nMD9,HALF,2026-03-10 09:00,40\n"
            "MD9,HALF,2026-03-10 12:00,40\n",
            "checks.csv": f"{CHECKS}2026-03-10 12:30,WEIGH,batch:MD9,2026-03-10 12:00,1; 1; 5\n",
        }
    )
    lots = Lot.objects.filter(movements__posting__entry__batch__code="MD9", item__code="HALF")
    assert list(lots.order_by("pk").values_list("disposition", flat=True)) == ["released", "held"]
    assert Check.objects.order_by("pk").last().lot == lots.order_by("pk").last()  # type: ignore[union-attr]
    event = "2026-03-10 16:00,batch:MD9,release,weighed again"
    imports({"lot_events.csv": f"{EVENTS}{event}\n"})
    assert set(lots.values_list("disposition", flat=True)) == {"released"}
    assert Hold.objects.order_by("pk").last().release is not None  # type: ignore[union-attr]


def test_a_check_of_a_batch_or_a_lot_is_of_it(small_shop: None, imports: Imports) -> None:
    check(imports, "DUNK,batch:GL1,,0/20")
    lot = Lot.objects.filter(item__code="BODY").earliest("pk")
    check(imports, f"DUNK,{lot.code},,0/20")
    of_batch, of_lot = Check.objects.order_by("pk")[2:]
    assert (of_batch.lot, of_lot.lot) == (None, lot)


def test_what_was_never_made_is_not_checked(small_shop: None, imports: Imports) -> None:
    words = "checks.csv row 2: "
    assert "No entry of this batch" in refused(
        imports, "checks", "DUNK,batch:GL1,2026-03-03 10:01,0/20"
    )
    assert refused(imports, "checks", "DUNK,batch:MD1,,0/20").startswith(
        f"{words}This check is not made of that."
    )
    assert refused(imports, "checks", "DUNK,batch:GL1,,0/2").startswith(f"{words}Test ")
    assert Check.objects.count() == 2


def test_a_complaint_of_what_a_batch_made_is_of_its_one_lot(
    small_shop: None, imports: Imports
) -> None:
    assert "did not make one lot" in refused(imports, "complaints", "1,,,batch:RG1,,,,")
    complaint(imports, "1,CUST,,batch:RG1/second,,,,")
    lot = Complaint.objects.latest("pk").lot
    assert lot is not None
    assert (lot.grade, lot.parent) == ("second", None)


def test_a_complaint_of_what_never_left_is_refused_by_its_row(
    small_shop: None, imports: Imports
) -> None:
    words = "complaints.csv row 2: Nothing of HOOK left us in those days."
    row = "1,,,,HOOK,,2026-03-05,2026-03-10"
    assert refused(imports, "complaints", row).startswith(words)
    assert Complaint.objects.count() == 2


def test_a_complaint_is_of_what_left_by_the_end_of_its_day(imports: Imports) -> None:
    sheets = changed("complaints.csv", "2026-03-20,LEAK,2,CUST", "2026-03-05,LEAK,2,CUST")
    imports(sheets)
    assert Complaint.objects.earliest("pk").told_on == date(2026, 3, 5)
    assert Complaint.objects.count() == 2


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("1,CUST,,,,,,", "box"),
        ("1,CUST,BX1,batch:RG1,,,,", "box"),
        ("1,,,,,M90,2026-03-05,", "bought_last_on"),
        ("1,,BX1,,,,2026-03-05,", "bought_first_on"),
        ("1,,BX9,,,,,", "box"),
    ],
)
def test_a_complaint_that_contradicts_itself_is_found_before_anything_is_posted(
    row: str, column: str
) -> None:
    data = f"{COMPLAINTS}2026-03-25,LEAK,{row}\n"
    sheets = {**changed("complaints.csv", "took water", ""), "complaints.csv": data}
    (line,) = problems_in({name: text.encode() for name, text in sheets.items()})
    assert line.startswith(f"complaints.csv row 2, {column}")


def give_back(imports: Imports, row: str) -> None:
    imports({"returns.csv": f"{RETURNS}2026-03-24 10:00,{row}\n"})


def test_what_came_back_is_kept_from_use_with_the_complaint_that_it_came_for(
    small_shop: None, imports: Imports
) -> None:
    give_back(imports, "BX1,batch:RG1,24,SHELF,leak,")
    (back,) = CustomerReturn.objects.all()
    assert back.complaint is not None
    assert back.complaint == Complaint.objects.latest("pk")  # of the model, told a day later
    lots = Lot.objects.filter(movements__posting=back.posting).order_by("pk")
    assert [(lot.on_hand_base, lot.disposition, lot.place.code) for lot in lots] == [
        (22, "held", "SHELF"),  # the hooks in them are
        (2, "held", "SHELF"),
    ]


def test_what_came_back_did_not_come_for_what_was_told_later(
    small_shop: None, imports: Imports
) -> None:
    told = Complaint.objects.latest("pk")
    complaint(imports, "1,CUST,BX1,,,,,")
    give_back(imports, "BX1,batch:RG1,1,SHELF,leak,")
    assert CustomerReturn.objects.get().complaint == told


def test_what_came_back_and_was_thrown_away_is_gone(small_shop: None, imports: Imports) -> None:
    give_back(imports, ",batch:RG1,2,SHELF,,yes")
    (back,) = CustomerReturn.objects.all()
    assert back.complaint is None
    (lot,) = Lot.objects.filter(movements__posting=back.posting)
    assert (lot.on_hand_base, lot.shipment_lines.get().box) == (0, None)
    kinds = lot.movements.order_by("pk").values_list("posting__kind", "qty_base")
    assert list(kinds)[-3:] == [("shipped", -2), ("returned", 2), ("disposed", -2)]


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("BX1,batch:RG1,31,SHELF,,", "More would come back than is still out of this shipment."),
        ("BX1,,1,SHELF,,", "Several lots left so. Name both the box and the lot."),
        ("BX1,batch:MD1,1,SHELF,,", "Nothing left so until then."),
        ("BX1,batch:RG1,1,SHELF,SHORT,", "Nobody complained of that until then."),
        (",,1,SHELF,,", "Give the box that they left in, or the lot, or both."),
        ("BX9,,1,SHELF,,", "No box"),
    ],
)
def test_what_cannot_have_come_back_is_refused_by_its_row(
    small_shop: None, imports: Imports, row: str, words: str
) -> None:
    with pytest.raises(ImportRefusedError) as refusal:
        give_back(imports, row)
    problems: Any = refusal.value.lines
    assert len(problems) == 1
    assert problems[0].startswith("returns.csv row 2")
    assert words in problems[0]
    assert not CustomerReturn.objects.exists()


def test_a_lot_is_of_one_entry_already() -> None:
    sheets = changed("checks.csv", "batch:GL1", "ADHA-1")
    (line,) = problems_in({name: text.encode() for name, text in sheets.items()})
    assert line.startswith("checks.csv row 3, entry_at")
