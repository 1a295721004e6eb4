"""What every rule of the made-up shop is made of: try, compare, note what the answer says."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from datetime import timedelta
from decimal import Decimal
from math import ceil
from typing import Any, ClassVar, TypeVar

from django.db import connection, transaction
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant

from batches.packing.operations import create_customer
from batches.runs.operations import plan, record, start_batch
from batches.runs.steps.batches import BatchPlan
from batches.runs.steps.drafts import EntryDraft, GoodTally, LotUse, ScrapTally
from batches.runs.steps.recorded import RecordedRow
from inventory.stock.models import Lot
from inventory.stock.selectors.proofs import ledger_proofs
from shopfloor.errors import ShopError
from shopfloor.models import User
from shopfloor.stamp import Stamp
from tests.batches.runs import conftest as runs
from tests.inventory.stock.shadow import Happening, Shadow, ShadowLot, share_of, shares

R = TypeVar("R")

MINUTE = timedelta(minutes=1)
OPENED_LIFE = 240
POT_LIFE = 30
BASE = {"g": 1_000, "each": 1}
MADE = ("HALF", "BODY", "ADH-MIX")
PIECES = {"HALF", "BODY"}

picks = st.one_of(st.integers(0, 2), st.integers(0, 10**6))
ago = st.sampled_from([0, 0, 0, 0, 0, 1, 7, 45, 300, 900])
percents = st.sampled_from([1, 2, 10, 33, 50, 99, 100])

TABLES = (
    "inventory_lot", "inventory_posting", "inventory_movement", "inventory_lotevent",
    "inventory_hold", "inventory_heldlot", "inventory_holdrelease", "inventory_count",
    "inventory_countline", "inventory_receipt", "inventory_receiptline", "inventory_place",
    "batches_entry", "batches_entrytally", "batches_entryfactor", "batches_batchevent",
    "batches_box", "batches_shipment", "batches_shipmentline", "batches_customerreturn",
    "inventory_booksclosing", "shopfloor_change",
)  # fmt: skip


def part_of(lot: ShadowLot, percent: int) -> int:
    """An amount of a lot, at least one."""
    return max(lot.qty * percent // 100, 1)


def has_lots(shop: Floor) -> bool:
    """Whether there is anything to do something to."""
    return bool(shop.shadow.lots)


def needs(item: str, pieces: int, *, is_first: bool) -> dict[tuple[str, ...], int]:
    """What the bills of the shop say, worked out by hand: base units by items that may serve."""
    if item == "HALF":
        return {("RESIN", "REGRIND"): 5_000 * pieces}
    if item == "BODY":
        return {("HALF",): 2 * pieces, ("ADH-A",): 150 * pieces + (5_000 if is_first else 0)}
    return {("ADH-A",): ceil(pieces / 2), ("ADH-B",): ceil(pieces / 2)}


def rows() -> tuple[int, ...]:
    """How many rows each table has."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT " + ", ".join(f"(SELECT COUNT(*) FROM {name})" for name in TABLES)  # noqa: S608 - our own tables
        )
        return tuple(cursor.fetchone() or ())


def base_of(amount: Any) -> int:
    """Base units of an answer's amount."""
    base = Decimal(amount.amount) * BASE[amount.unit]
    assert base == int(base)
    return int(base)


class Floor(RuleBasedStateMachine):
    """The shop as far as rules need it, and the shadow that looks on.

    Attributes:
        by: A lead, for whom the shop stands already.
        told: How often what came out how, over all examples.
    """

    by: ClassVar[User]
    told: ClassVar[Counter[str]]

    def __init__(self) -> None:
        super().__init__()
        self.frame = transaction.atomic()
        vars(self.frame)["_from_testcase"] = True  # operations run inside, as in any test
        self.frame.__enter__()
        self.shadow = Shadow()
        self.minute = 0
        self.written = 0
        self.is_proved = False
        self.entries: dict[str, tuple[str, Happening]] = {}
        self.standing: Counter[str] = Counter()
        self.batches = {runs.running(self.by, item).code: item for item in MADE}
        batch = plan(
            plan=BatchPlan(item_code="BODY", planned_base=9, rework_stage="GLUING"),
            stamp=runs.stamp_at(self.by),
        )
        self.rework = start_batch(batch_code=batch.code, stamp=runs.stamp_at(self.by)).code
        create_customer(code="CUSTOMER", name="A customer", stamp=runs.stamp_at(self.by))

    def teardown(self) -> None:
        """Undo the example."""
        transaction.set_rollback(True)
        self.frame.__exit__(None, None, None)

    def stamp(self, back: int = 0) -> Stamp:
        """Some minutes ago; each is written down later than the last."""
        self.written += 1
        now = runs.LATER + self.written * timedelta(seconds=1)
        return Stamp(
            by=self.by, at=runs.NOON + (self.minute - back) * MINUTE, now=now, reason="any"
        )

    def tried(self, what: str, call: Callable[[], R]) -> R | None:
        """The answer; None when it was refused, and then nothing was written."""
        before = rows()
        try:
            answer = call()
        except ShopError as refusal:
            assert rows() == before, f"{what} was refused and wrote all the same"
            self.told[f"{what}: {refusal.code}"] += 1
            return None
        self.told[f"{what}: done"] += 1
        self.is_proved = False
        return answer

    def lot(self, pick: int) -> ShadowLot:
        """Some lot, the newest most often: much happens to what something happened to."""
        return list(self.shadow.lots.values())[-1 - pick % len(self.shadow.lots)]

    def born(self, code: str, item: str, at: int, lives: int | None = None) -> ShadowLot:
        """Enter a lot that came from outside."""
        lot = ShadowLot(code=code, item=item, born=at, lives=[(at, lives)])
        self.shadow.lots[code] = lot
        return lot

    def took(self, lot: ShadowLot, qty: int) -> tuple[int, int]:
        """What leaves with an amount, as the shadow works it out."""
        assert qty <= lot.qty, f"more was taken of {lot.code} than there was"
        return -qty, -share_of(lot.value, qty, lot.qty)

    def taken_out(self, lot: ShadowLot, qty: int, back: int) -> Happening:
        """An amount of a lot went outside."""
        gone = self.took(lot, qty)
        return self.shadow.happened(self.minute - back, {lot.code: gone}, outside=gone[1])

    def split_in_two(self, lot: ShadowLot, code: str, qty: int, back: int) -> ShadowLot:
        """A part of a lot became a lot of its own."""
        at = self.minute - back
        gone = self.took(lot, qty)
        part = self.shadow.split_from(lot, code, at)
        changes = {lot.code: gone, code: (qty, -gone[1])}
        self.shadow.happened(at, changes, flows=True, outside=0)
        return part

    def refuse_stopped(self, lot: ShadowLot, at: int, *, held_allowed: bool = False) -> None:
        """What the product used must not have been stopped."""
        why_not = lot.why_not(at, held_allowed=held_allowed)
        assert why_not == "", f"{lot.code} was used though {why_not}"

    def recorded(
        self, batch: str, good: Sequence[GoodTally], scrap: int, uses: Sequence[LotUse], back: int
    ) -> RecordedRow | None:
        """Record an entry, and note what it answered."""
        item = self.batches.get(batch, "rework")
        draft = EntryDraft(
            batch_code=batch,
            good=good,
            scrap=[ScrapTally(scrap, "ANY")] if scrap else [],
            lots=uses,
        )
        row = self.tried(f"entry of {item}", lambda: record(draft=draft, stamp=self.stamp(back)))
        if row is not None:
            self._note(row, item, good, self.minute - back)
            self.standing[batch] += 1
        return row

    def _note(self, row: RecordedRow, item: str, good: Sequence[GoodTally], at: int) -> None:
        sources = [self.shadow.lots[taken.lot] for taken in row.taken]
        for lot in sources:
            self.refuse_stopped(lot, at, held_allowed=item == "rework")
        changes = {
            lot.code: self.took(lot, base_of(taken.amount))
            for lot, taken in zip(sources, row.taken, strict=True)
        }
        total = -sum(value for _, value in changes.values())
        weights = [tally.qty_base for tally in good]
        values = [*(shares(total, weights) if weights else []), *[0] * len(row.made)]
        assert [base_of(made.amount) for made in row.made[: len(weights)]] == weights
        for made, value in zip(row.made, values, strict=False):
            lives = at + POT_LIFE if made.item == "ADH-MIX" else None
            lot = ShadowLot(code=made.lot, item=made.item, born=at, lives=[(at, lives)])
            self.shadow.born_of(lot, [source.code for source in sources])
            changes[made.lot] = (base_of(made.amount), value)
        outside = 0 if weights else -total
        event = self.shadow.happened(at, changes, flows=True, outside=outside)
        self.entries[row.code] = (row.batch, event)

    @invariant()
    def lots_are_what_the_shadow_says(self) -> None:
        """Amount, value and disposition of every lot, and all that came from outside."""
        real = {
            row[0]: row[1:]
            for row in Lot.objects.values_list("code", "on_hand_base", "value_micro", "disposition")
        }
        lots = self.shadow.lots.values()
        ought = {lot.code: (lot.qty, lot.value, lot.disposition) for lot in lots}
        wrong = {code for code in real.keys() | ought.keys() if real.get(code) != ought.get(code)}
        assert not wrong, {code: (real.get(code), ought.get(code)) for code in wrong}
        assert sum(lot.value for lot in lots) == self.shadow.outside, "value appeared or vanished"
        low = list(self.shadow.below_zero())
        assert not low, f"they held less than nothing: {low}"

    @invariant()
    def every_proof_holds(self) -> None:
        """What the product proves of itself; again once something was done."""
        if self.is_proved:
            return
        self.is_proved = True
        differences = [line for proof in ledger_proofs() for line in proof.differences]
        assert not differences, differences
