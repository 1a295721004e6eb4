"""A shop in which everything happened once, and what is compared after it moved."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from io import StringIO
from itertools import chain
from pathlib import Path
from typing import Any, Final

from django.core.management import call_command

from batches.bills.operations import create_revision, retire_bill
from batches.exchange.operations.headings import say_heading
from batches.exchange.rules.moving_about import ABOUT_FILE
from batches.exchange.selectors.proofs import floor_proofs
from batches.labels.operations import enter_stock, note_printing
from batches.labels.selectors import print_job
from batches.packing.models import Complaint
from batches.packing.operations import (
    Back,
    ComplaintDraft,
    OrderLine,
    Part,
    Purpose,
    allot_ssccs,
    cancel_customer_order,
    close_box,
    close_customer_order,
    complain,
    enter_customer_order,
    pack_box,
    reverse_customer_return,
    reverse_shipment,
    ship,
    take_back_from_customer,
)
from batches.planning.operations import PlanLine, create_build_plan, set_planning_policy
from batches.quality.models import Check
from batches.quality.operations import check, create_definition
from batches.quality.steps.checking import CheckDraft, ResultDraft
from batches.recall.operations import begin_recall, close_recall, note_in_recall
from batches.recall.selectors.asked import Asked
from batches.recall.steps import NoteDraft
from batches.runs.models import ScrapReason
from batches.runs.operations import abort_batch, hold_batch, plan, record, reverse, start_batch
from batches.runs.steps.batches import BatchPlan
from batches.runs.steps.drafts import EntryDraft, GoodTally, LotUse
from batches.trace.selectors.traces import Question, downstream, upstream
from batches.watch.operations import AlertDraft, close_alert, open_alert
from batches.watch.rules.wording import Seen
from inventory.catalog.operations import allot_gtins, change_item
from inventory.catalog.steps import GtinAsk
from inventory.purchasing.operations import (
    cancel_supplier_order,
    close_supplier_order,
    place_supplier_order,
    receive_delivery,
    return_to_supplier,
    reverse_receipt,
    reverse_supplier_return,
)
from inventory.purchasing.steps import OrderLineDraft, ReceiptLineDraft, ReturnDraft
from inventory.reorder.operations import set_reorder_policy
from inventory.stock.models import Hold, Lot
from inventory.stock.operations import (
    Found,
    adjust_lot,
    close_books,
    count_lots,
    dispose_of_lot,
    extend_expiry,
    hold_lot,
    open_lot,
    reject_lot,
    release_hold,
    revalue_lot,
    split_off,
)
from inventory.stock.selectors.proofs import ledger_proofs
from shopfloor.codes.alphabet import Prefix, encode
from shopfloor.fields import Amount
from shopfloor.models import User
from shopfloor.operations.people import blank_name
from shopfloor.operations.tokens import issue_token
from shopfloor.stamp import Stamp
from tests.batches.exchange.small import CLOCK
from tests.batches.floor import Caller

STRANGE: Final = '=1+2,"quoted";\r\nnext\rline\tß 中 \U0001f41f  '
"""What a spreadsheet would run, split or trim."""

_DAY: Final = datetime(2026, 3, 10, 15, 0, 0, 123456, tzinfo=UTC)


def everything_happens(owner: User, bench: User) -> None:
    """All that the small shop of the sheets has not seen yet."""
    _Happenings(owner).run(bench)


class _Happenings:
    def __init__(self, owner: User) -> None:
        self.owner = owner
        self.at = _DAY

    def stamp(self) -> Stamp:
        self.at += timedelta(minutes=1)
        return Stamp(by=self.owner, at=self.at, now=CLOCK.now, reason="for the test")

    def run(self, bench: User) -> None:
        self.stock()
        self.purchasing()
        self.making()
        self.sending()
        self.checking()
        self.recalling()
        self.watching()
        self.plain_tables()
        self.people(bench)
        close_books(through=date(2026, 3, 9), stamp=self.stamp())

    def stock(self) -> None:
        hold = Hold.objects.get()
        release_hold(hold_code=encode(hold.pk, Prefix.HOLD), stamp=self.stamp())
        count_lots(found=[Found("ADHA-1", 480_000)], stamp=self.stamp())
        adjust_lot(lot_code="ADHB-1", qty_base=-1_000, stamp=self.stamp())
        revalue_lot(lot_code="ADHB-1", value_micro=7, stamp=self.stamp(), document="INV-1")
        part = split_off(lot_code="HOOK-1", qty_base=100, stamp=self.stamp())
        hold_lot(lot_code=part.code, stamp=self.stamp())
        other = split_off(lot_code="HOOK-1", qty_base=10, stamp=self.stamp())
        reject_lot(lot_code=other.code, stamp=self.stamp())
        open_lot(lot_code="ADHB-1", stamp=self.stamp())
        dispose_of_lot(lot_code="ADHB-1", qty_base=5, stamp=self.stamp())

    def purchasing(self) -> None:
        thousand = Amount(Decimal(1000), "each")
        for code, end in (("PO2", close_supplier_order), ("PO3", cancel_supplier_order)):
            line = OrderLineDraft(item_code="HOOK", packs=1, pack_price_micro=1)
            place_supplier_order(
                supplier_code="NORTH", lines=[line], stamp=self.stamp(), code=code, note=STRANGE
            )
            end(order_code=code, stamp=self.stamp())
        for lot in ("HOOK-2", "HOOK-3"):
            came = ReceiptLineDraft(
                item_code="HOOK", amount=thousand, value_micro=333, lot_code=lot,
                expires_on=date(2026, 12, 31),
            )  # fmt: skip
            receipt = receive_delivery(
                supplier_code="NORTH", lines=[came], stamp=self.stamp(), delivery_note=lot
            )
        reverse_receipt(receipt_code=receipt.code, stamp=self.stamp())
        extend_expiry(
            lot_code="HOOK-2", expires_at=datetime(2027, 1, 31, 6, tzinfo=UTC), stamp=self.stamp()
        )
        back = [ReturnDraft("HOOK-2", Amount(Decimal(100), "each"))]
        sent = return_to_supplier(lots=back, stamp=self.stamp())
        reverse_supplier_return(posting_code=sent.posting.code, stamp=self.stamp())
        return_to_supplier(lots=back, stamp=self.stamp())

    def making(self) -> None:
        for code in ("MD2", "MD3"):
            plan(
                plan=BatchPlan(item_code="HALF", planned_base=10, code=code, note=STRANGE),
                stamp=self.stamp(),
            )
            start_batch(batch_code=code, stamp=self.stamp())
        draft = EntryDraft(batch_code="MD2", good=[GoodTally(10)], factors={"shift": STRANGE[:30]})
        entry = record(draft=draft, stamp=self.stamp())
        reverse(entry_code=entry.code, stamp=self.stamp())
        hold_batch(batch_code="MD2", stamp=self.stamp())
        abort_batch(batch_code="MD3", stamp=self.stamp())
        plan(
            plan=BatchPlan(item_code="LURE", planned_base=3, code="RW1", rework_stage="RIG"),
            stamp=self.stamp(),
        )
        start_batch(batch_code="RW1", stamp=self.stamp())
        lot = self.lures()
        draft = EntryDraft(batch_code="RW1", good=[GoodTally(2)], lots=[LotUse(lot.code, 2)])
        record(draft=draft, stamp=self.stamp())

    def lures(self) -> Lot:
        lots = Lot.objects.filter(item__code="LURE", grade="first", disposition="released")
        lot = lots.order_by("-on_hand_base").first()
        assert lot is not None
        return lot

    def checking(self) -> None:
        fields: dict[str, Any] = {"name": STRANGE, "stage": "RIG", "item": "LURE"}
        fields |= {"kind": "measured", "unit": "mm", "lower": Decimal("-0.5")}
        fields |= {"how_many": "fixed", "fixed_pieces": 1}
        create_definition(code="WALL", fields=fields, by=self.owner, at=CLOCK.now)
        wrong = self.check("-0.50001")
        self.check("12.5", replaces=wrong.code)

    def recalling(self) -> None:
        asked = Asked(lots=["ADHB-1"])
        recall = begin_recall(kind="real", asked=asked, stamp=self.stamp())
        for draft in (NoteDraft(), NoteDraft("CUST", "LURE", 1)):
            note_in_recall(recall_code=recall.code, draft=draft, stamp=self.stamp())
        close_recall(recall_code=recall.code, stamp=self.stamp())

    def watching(self) -> None:
        seen = Seen("", date(2026, 3, 9), tested=100, failed=3, tested_before=900, failed_before=1)
        exposures = [{"kind": "lot", "name": STRANGE}]
        for code in ScrapReason.objects.order_by("pk").values_list("code", flat=True)[:2]:
            draft = AlertDraft(code, seen, self.at, STRANGE, exposures)
            alert = open_alert(draft=draft, at=CLOCK.now)
        assert alert is not None
        close_alert(alert_code=alert.code, is_usual=True, stamp=self.stamp())

    def check(self, value: str, **more: str) -> Check:
        results = [ResultDraft(value=Decimal(value))]
        draft = CheckDraft(definition_code="WALL", batch_code="RW1", results=results, **more)
        return check(draft=draft, stamp=self.stamp())

    def sending(self) -> None:
        lot = self.lures()
        pack_box(contents=[], stamp=self.stamp(), code="OUTER")
        for code in ("IN1", "IN2"):
            pack_box(
                contents=[Part(lot.code, 1)], stamp=self.stamp(), code=code, parent_code="OUTER"
            )
            close_box(box_code=code, stamp=self.stamp())
        close_box(box_code="OUTER", stamp=self.stamp())
        allot_ssccs(box_codes=["OUTER"], stamp=self.stamp())
        for _ in range(2):
            note_printing(
                kind="boxes", codes=["OUTER", "IN1"], copies=2, job=print_job("4x6", dpi=203),
                stamp=self.stamp(),
            )  # fmt: skip
        lost = ship(
            customer_code="CUST", stamp=self.stamp(), box_codes=["OUTER"], purpose=Purpose.SAMPLE
        )
        reverse_shipment(shipment_code=lost.code, stamp=self.stamp())
        sent = ship(
            customer_code="CUST", stamp=self.stamp(), box_codes=["OUTER"], purpose=Purpose.FREE,
            carrier="=carrier",
        )  # fmt: skip
        codes = list(sent.lines.order_by("pk").values_list("lot__code", flat=True))
        for code in codes[:2]:
            complaint = self.complaint(box_code="OUTER")
            came = take_back_from_customer(
                shipment_code=sent.code, lines=[Back(code, 1)], place_code="SHELF",
                stamp=self.stamp(), complaint_code=complaint.code,
            )  # fmt: skip
        reverse_customer_return(posting_code=came.posting.code, stamp=self.stamp())
        self.complaint(lot_code=codes[0], replaces=complaint.code)
        day = self.at.date()
        self.complaint(item_code="LURE", bought_first_on=day, bought_last_on=day)
        for code, end in (("CO2", close_customer_order), ("CO3", cancel_customer_order)):
            line = OrderLine("LURE", 3, 1, promised_on=date(2026, 5, 1))
            enter_customer_order(
                customer_code="CUST", lines=[line], stamp=self.stamp(), code=code, note=STRANGE
            )
            end(order_code=code, stamp=self.stamp())

    def complaint(self, **given: Any) -> Complaint:
        draft = ComplaintDraft(
            defect_code="LEAK", pieces=1, told_on=self.at.date(), customer_code="CUST",
            note=STRANGE, **given,
        )  # fmt: skip
        return complain(draft=draft, stamp=self.stamp())

    def plain_tables(self) -> None:
        by, at = self.owner, self.at
        enter_stock(
            code="TAG", columns={"page_width_um": 60_000, "page_height_um": 40_000,
            "label_width_um": 60_000, "label_height_um": 40_000}, by=by, at=at,
        )  # fmt: skip
        say_heading(sheet="items", heading="Part no", column="code", by=by, at=at)
        create_revision(item_code="HALF", note=STRANGE, by=by, at=at)
        set_planning_policy(
            item_code="HOOK", fields={
                "lot_sizing": "fixed", "lot": Amount(Decimal(50), "each"),
                "scrap_ratio": Decimal("0.03")},
            by=by, at=at,
        )  # fmt: skip
        create_build_plan(
            code="SPRING", fields={"name": "Spring", "note": STRANGE, "lines": [
                PlanLine("LURE", at.date(), 500)]}, by=by, at=at,
        )  # fmt: skip
        retire_bill(item_code="LURE", number=1, by=by, at=at)
        set_reorder_policy(
            item_code="HOOK", fields={"service_level": Decimal("0.975"), "is_watched": True},
            by=by, at=at,
        )  # fmt: skip
        change_item(
            code="HOOK", fields={"piece_mass_mg": Decimal("612.5"), "hazard_text": STRANGE},
            by=by, at=at,
        )  # fmt: skip

        allot_gtins(asks=[GtinAsk("LURE")], by=by, at=at)

    def people(self, bench: User) -> None:
        issue_token(username="hand", name="scanner", by=self.owner, at=self.at)
        blank_name(username=bench.username, by=self.owner, at=self.at)
        answer = Caller(self.owner).post("places/", {"code": "NEW", "name": "ß", "kind": "shelf"})
        assert answer.status_code == 201, answer.json()


def exported(folder: Path, *options: str) -> dict[str, bytes]:
    """Export the shop, and everything that was written, but when and from where."""
    call_command("export", str(folder), *options, stdout=StringIO())
    return contents(folder)


def contents(folder: Path) -> dict[str, bytes]:
    """Files by name; of what the folder says of itself, all but when and from where."""
    files = {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }
    moving = (b'"exported_at"', b'"database"')
    files[ABOUT_FILE] = b"\n".join(
        line for line in files[ABOUT_FILE].splitlines() if not line.strip().startswith(moving)
    )
    return files


def emptied() -> None:
    """The same database, as it is after `migrate`."""
    call_command("flush", interactive=False, verbosity=0)


def taken_in(folder: Path) -> str:
    """Import a folder; what is said of it."""
    out = StringIO()
    call_command("import", str(folder), stdout=out)
    return out.getvalue()


def answers() -> list[Any]:
    """What the shop answers about itself: balances, every trace both ways, every proof."""
    lots = list(Lot.objects.order_by("pk").values_list("code", "on_hand_base", "value_micro"))
    return [
        lots,
        *_traces(Question(lot=code) for code, *_ in lots),
        *_traces(Question(batch=code) for code in ("MD1", "MX1", "GL1", "RG1", "RW1")),
        *_traces(Question(box=code) for code in ("BX1", "OUTER", "IN1")),
        list(chain(ledger_proofs(), floor_proofs())),
    ]


def _traces(questions: Iterable[Question]) -> list[Any]:
    return [look(question) for question in questions for look in (upstream, downstream)]
