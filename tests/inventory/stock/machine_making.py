"""Rules of what comes in, is made, and goes back to where it came from."""

# ruff: noqa: D102, FBT001 - rules are called by their machine, by name
from __future__ import annotations

from collections import Counter
from decimal import Decimal

from hypothesis import strategies as st
from hypothesis.stateful import precondition, rule

from batches.runs.operations import reverse
from batches.runs.steps.drafts import GoodTally, LotUse
from inventory.purchasing.operations import (
    receive_delivery,
    return_to_supplier,
    reverse_receipt,
)
from inventory.purchasing.steps import ReceiptLineDraft, ReturnDraft
from inventory.stock import operations as stock
from shopfloor.fields import Amount
from tests.inventory.stock.machine import (
    MINUTE,
    PIECES,
    Floor,
    ago,
    base_of,
    has_lots,
    needs,
    part_of,
    percents,
    picks,
)
from tests.inventory.stock.shadow import Happening

values = st.sampled_from([0, 1, 999_983, 5_000_000])
START = (
    ("RESIN", 2_000_000, 9_999_991, None),
    ("REGRIND", 200_000, 0, None),
    ("ADH-A", 40_000, 5_000_011, 1_100),
    ("ADH-A", 300_000, 7_000_003, None),
    ("ADH-B", 50_000, 1_000_003, None),
    ("HALF", 30, 999_983, None),
    ("HALF", 50, 1_000_007, None),
    ("BODY", 25, 777_777, None),
)
"""Item, base units, value, minutes until it expires: what stands on the shelf at noon."""

START_MINUTE = 1_000


class Making(Floor):
    """A shop that receives and makes."""

    def __init__(self) -> None:
        super().__init__()
        self.receipts: dict[str, Happening] = {}
        for item, qty, value, lives in START:
            self.opening(item, qty, value, lives, False, 0)  # noqa: FBT003 - a rule, called by hand
        self.minute = START_MINUTE

    # What comes in, and goes back.

    @rule(
        item=st.sampled_from(["RESIN", "REGRIND", "ADH-A", "ADH-B", "HALF", "HALF", "BODY"]),
        qty=st.sampled_from([1, 40, 5_000, 123_457]),
        value=values,
        lives=st.sampled_from([None, None, None, 60, 2_000]),
        is_quarantined=st.sampled_from([False, False, False, True]),
        back=ago,
    )
    def opening(
        self, item: str, qty: int, value: int, lives: int | None, is_quarantined: bool, back: int
    ) -> None:
        stamp, at = self.stamp(back), self.minute - back
        opening = stock.OpeningLot(
            item_code=item,
            qty_base=qty,
            value_micro=value,
            expires_at=None if lives is None else stamp.at + lives * MINUTE,
            disposition="quarantined" if is_quarantined else "released",
        )
        posted = self.tried(
            "opening", lambda: stock.take_in_opening_lots(lots=[opening], stamp=stamp)
        )
        if posted is not None:
            lot = self.born(posted.made[0].code, item, at, None if lives is None else at + lives)
            if is_quarantined:
                lot.stopped("quarantine", at)
            self.shadow.happened(at, {lot.code: (qty, value)}, outside=value)

    @rule(qty=st.sampled_from([40, 500_000]), value=values, back=ago)
    def delivery(self, qty: int, value: int, back: int) -> None:
        line = ReceiptLineDraft(
            item_code="RESIN", amount=Amount(Decimal(qty), "mg"), value_micro=value
        )
        receipt = self.tried(
            "delivery",
            lambda: receive_delivery(
                supplier_code="SUPPLIER", lines=[line], stamp=self.stamp(back)
            ),
        )
        if receipt is not None:
            at = self.minute - back
            lot = self.born(receipt.lines.get().lot.code, "RESIN", at)
            lot.is_bought = True
            change = {lot.code: (qty, value)}
            self.receipts[receipt.code] = self.shadow.happened(at, change, outside=value)

    @precondition(lambda self: self.receipts)
    @rule(pick=picks, back=ago)
    def delivery_undone(self, pick: int, back: int) -> None:
        code = list(self.receipts)[pick % len(self.receipts)]
        if self.tried(
            "delivery undone", lambda: reverse_receipt(receipt_code=code, stamp=self.stamp(back))
        ):
            self.shadow.undone(self.receipts[code], self.minute - back)

    @precondition(has_lots)
    @rule(pick=picks, percent=percents, back=ago)
    def sent_back(self, pick: int, percent: int, back: int) -> None:
        lot = self.lot(pick)
        qty = part_of(lot, percent)
        amount = Amount(Decimal(qty), "each" if lot.item in PIECES else "mg")
        if self.tried(
            "sent back",
            lambda: return_to_supplier(
                lots=[ReturnDraft(lot.code, amount)], stamp=self.stamp(back)
            ),
        ):
            assert lot.is_bought
            self.taken_out(lot, qty, back)

    # What is made.

    @rule(
        batch=st.integers(0, 2),
        good=st.sampled_from([1, 3, 10, 1_001]),
        second=st.sampled_from([0, 0, 2]),
        scrap=st.sampled_from([0, 0, 1, 4]),
        is_scrap_alone=st.sampled_from([False] * 5 + [True]),
        scans=st.lists(picks, max_size=2),
        is_exact=st.booleans(),
        back=ago,
    )
    def entry(
        self, batch: int, good: int, second: int, scrap: int, is_scrap_alone: bool,
        scans: list[int], is_exact: bool, back: int,
    ) -> None:  # fmt: skip
        code, item = list(self.batches.items())[batch]
        tallies = [GoodTally(good), *([GoodTally(second, "second")] if second else [])]
        tallies = [] if is_scrap_alone else tallies
        pieces = sum(tally.qty_base for tally in tallies) + scrap
        families = needs(item, pieces, is_first=self.standing[code] == 0)
        need_of = {name: need for family, need in families.items() for name in family}
        fitting = [lot for lot in self.shadow.lots.values() if lot.item in need_of]
        wanted = [fitting[pick % len(fitting)] for pick in scans if fitting]
        uses = [
            LotUse(lot.code, max(need_of[lot.item], 1)) if is_exact else LotUse(lot.code)
            for lot in wanted
        ]
        row = self.recorded(code, tallies, scrap, uses, back)
        if row is not None and not (is_exact and uses):
            taken: Counter[str] = Counter()
            for each in row.taken:
                taken[each.item] += base_of(each.amount)
            assert families == {family: sum(taken[n] for n in family) for family in families}
            assert taken["REGRIND"] * 4 <= taken["REGRIND"] + taken["RESIN"]

    @rule(pick=picks, pieces=st.sampled_from([1, 3]), scrap=st.sampled_from([0, 1]), back=ago)
    def reworked(self, pick: int, pieces: int, scrap: int, back: int) -> None:
        bodies = [lot for lot in self.shadow.lots.values() if lot.item == "BODY"]
        bodies = [lot for lot in bodies if lot.holds] or bodies
        uses = [LotUse(bodies[pick % len(bodies)].code)] if bodies else []
        self.recorded(self.rework, [GoodTally(pieces)], scrap, uses, back)

    @precondition(lambda self: self.entries)
    @rule(pick=st.integers(0, 3), back=ago)
    def entry_undone(self, pick: int, back: int) -> None:
        code = list(self.entries)[-1 - pick % len(self.entries)]
        batch, event = self.entries[code]
        if self.tried("entry undone", lambda: reverse(entry_code=code, stamp=self.stamp(back))):
            self.shadow.undone(event, self.minute - back)
            self.standing[batch] -= 1
