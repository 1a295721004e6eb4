"""Batches and their entries: from pellets to packed lures, by the bills."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random
from typing import Final

from batches.bills.selectors.sheets import BillSheet, SheetLine
from batches.quality.models import Check, CheckResult
from batches.runs.models import Batch, BatchEvent, Entry, EntryFactor, EntryTally
from batches.runs.rules import entry_values
from shopfloor.codes.alphabet import Prefix, encode
from tests.bench.past.buying import receive
from tests.bench.past.ledger import Change, Held
from tests.bench.past.shop import Shop
from tests.bench.past.writing import moment

PIECES: Final = range(100, 181)  # of an entry
MIXED_BASE: Final = 100_000  # of an entry that mixes: milligrams
OPEN_LOTS_MAX: Final = 5  # of one item, that an entry takes from
ENTRIES_OF_A_BATCH: Final = range(2, 4)
LOT_SERVES: Final = 6  # entries that one lot of something bought suffices for
UNDONE: Final = 0.005  # share of entries that are reversed
TESTED: Final = 20  # pieces of each entry; more than `MAY_FAIL` never fail
MAY_FAIL: Final = 2


class Bench:
    """Makes things, day by day."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self._batches: dict[int, list[int]] = {}  # item: batch, entries to come
        self._needs: dict[tuple[int, int, int, bool], int] = {}
        self._tester = Random(2)  # noqa: S311 - not a secret

    def make_chain(self, chain: Sequence[int]) -> None:
        """Make what a packed lure takes, each once, and last the lure."""
        for item_id in chain:
            self.make(self.shop.floor.sheets[item_id])

    def make(self, bill: BillSheet) -> None:
        """Record an entry, if what it takes of our own make is there."""
        shop, random = self.shop, self.shop.random
        good = MIXED_BASE if bill.stage_is_mixing else random.choice(PIECES)
        scrap = 0 if bill.stage_is_mixing or random.random() < 0.4 else random.randint(1, 5)
        is_first = bill.item.id not in self._batches
        needs = [
            (line, self._need(bill, line, good + scrap, first=is_first)) for line in bill.taken
        ]
        for line, need in needs:
            if shop.ledger.on_shelf(line.item.id) < need:
                if line.item.id in shop.floor.sheets:
                    return
                receive(shop, line.item.id, lot_base=need * LOT_SERVES)
        shop.pass_time(900)
        changes = [change for line, need in needs for change in self._pull(line, need)]
        self._record(bill, changes, good=good, scrap=scrap, first=is_first)

    def _need(self, bill: BillSheet, line: SheetLine, pieces: int, *, first: bool) -> int:
        key = (bill.item.id, line.item.id, pieces, first)
        if key not in self._needs:
            self._needs[key] = line.need_base(pieces, is_first_entry=first)
        return self._needs[key]

    def _pull(self, line: SheetLine, need: int) -> list[Change]:
        """Of the line's item; now and then a tenth of it of what may stand in."""
        ledger, random = self.shop.ledger, self.shop.random
        most = random.randint(1, OPEN_LOTS_MAX)
        for other in line.alternatives:
            part = need // 10
            if part and random.random() < 0.3 and ledger.on_shelf(other.item.id) >= part:
                return [
                    *ledger.pull(other.item.id, part, most=most),
                    *ledger.pull(line.item.id, need - part, most=most),
                ]
        return ledger.pull(line.item.id, need, most=most) if need else []

    def _record(
        self, bill: BillSheet, changes: list[Change], *, good: int, scrap: int, first: bool
    ) -> None:
        shop, ledger, writer = self.shop, self.shop.ledger, self.shop.writer
        by_id = shop.random.choice(shop.floor.benches)
        batch_id = self._batch(bill, by_id=by_id)
        lots, second = self._made(bill, changes, good=good, pieces=good + scrap, first=first)
        posting = ledger.post(
            "mixed" if bill.stage_is_mixing else "made",
            changes=changes,
            makes=lots,
            at=shop.some_time_ago(),
            by_id=by_id,
            document=("batch", encode(batch_id, Prefix.BATCH)),
        )
        shop.entries += 1
        writer.add(Entry, posting, batch_id, by_id, good, scrap, shop.random.randint(15, 120))
        self._tally(bill, posting, good=good, second=second, scrap=scrap)
        if self.shop.floor.definitions[bill.stage_id]:
            self._check(bill, posting, batch_id, lots[0], by_id=by_id)
        shop.keep_key(encode(posting, Prefix.ENTRY), changes, lots, by_id=by_id)
        if shop.random.random() < UNDONE:
            self._undo(posting, changes, lots, by_id=by_id)
        else:
            self._put_away(bill, lots)
        self._batches[bill.item.id][1] -= 1
        if not self._batches[bill.item.id][1]:
            self._end(bill.item.id, by_id=by_id)

    def _made(
        self, bill: BillSheet, changes: list[Change], *, good: int, pieces: int, first: bool
    ) -> tuple[list[Held], int]:
        """The lots to be made, and how many pieces of them are seconds."""
        shop = self.shop
        seconds = 0 if bill.stage_is_mixing or shop.random.random() < 0.9 else 2
        by_grade = [good - seconds, seconds] if seconds else [good]
        runners = [
            (line, need)
            for line in bill.by_products
            if (need := self._need(bill, line, pieces, first=first))
        ]
        values = entry_values(
            total_micro=-sum(value for _, _, value in changes),
            pieces_by_output=by_grade,
            by_product_ratios=[line.value_ratio for line, _ in runners],
        )
        place_id = shop.floor.items[bill.item.id][1]
        made = [
            Held(
                item_id=bill.item.id,
                place_id=place_id,
                qty=qty,
                value=value,
                grade=grade,
                expires_at=shop.ledger.now + 1800 if bill.stage_is_mixing else None,
            )
            for qty, value, grade in zip(
                by_grade, values.outputs_micro, ("first", "second"), strict=False
            )
        ]
        made += [
            Held(
                item_id=line.item.id,
                place_id=shop.floor.items[line.item.id][1],
                qty=qty,
                value=value,
            )
            for (line, qty), value in zip(runners, values.by_products_micro, strict=True)
        ]
        return made, seconds

    def _put_away(self, bill: BillSheet, lots: list[Held]) -> None:
        for lot in lots:
            if lot.grade == "first":
                self.shop.ledger.shelf[lot.item_id].append(lot)
            if lot.grade != "first" or lot.item_id != bill.item.id or bill.stage_is_mixing:
                self.shop.leftovers.append(lot)

    def _tally(self, bill: BillSheet, posting: int, *, good: int, second: int, scrap: int) -> None:
        shop, writer, random = self.shop, self.shop.writer, self.shop.random
        cavity = random.choice(shop.floor.cavities)
        half = (good - second) // 2
        for qty, equipment_id in ((half, cavity), (good - second - half, cavity + 1)):
            is_part = equipment_id in shop.floor.cavities and not bill.stage_is_mixing
            part = equipment_id if is_part else None
            writer.append(EntryTally, posting, "first", None, part, qty)
        if second:
            writer.append(EntryTally, posting, "second", None, None, second)
        if scrap:
            reason = random.choice(shop.floor.reasons[bill.stage_id])
            writer.append(EntryTally, posting, "", reason, cavity, scrap)
        writer.append(EntryFactor, posting, random.choice(shop.floor.equipment), "", "")
        writer.append(EntryFactor, posting, None, "humidity", str(random.randint(25, 70)))

    def _check(
        self, bill: BillSheet, posting: int, batch_id: int, lot: Held, *, by_id: int
    ) -> None:
        """Some of the pieces were tested, for each defect of the stage in turn."""
        writer, at = self.shop.writer, moment(self.shop.ledger.now)
        definition = self._tester.choice(self.shop.floor.definitions[bill.stage_id])
        failed = self._tester.choices(range(MAY_FAIL + 1), weights=(90, 8, 2))[0]
        number = writer.append(
            Check, definition, lot.id, batch_id, posting, at, at, by_id, "", lot.qty, TESTED,
            failed, True, True, False, TESTED, MAY_FAIL, MAY_FAIL + 1, "", "", None,
        )  # fmt: skip
        writer.append(CheckResult, number, None, TESTED, failed, None)

    def _batch(self, bill: BillSheet, *, by_id: int) -> int:
        if bill.item.id in self._batches:
            return self._batches[bill.item.id][0]
        shop, at = self.shop, moment(self.shop.ledger.now)
        batch_id = shop.writer.next_id(Batch)
        self._batches[bill.item.id] = [batch_id, shop.random.choice(ENTRIES_OF_A_BATCH)]
        event = (batch_id, "planned", "running", at, at, by_id, "")
        shop.writer.append(BatchEvent, *event)
        return batch_id

    def _end(self, item_id: int, *, by_id: int) -> None:
        batch_id = self._write_batch(item_id, "complete")
        at = moment(self.shop.ledger.now)
        self.shop.writer.append(BatchEvent, batch_id, "running", "complete", at, at, by_id, "")

    def _write_batch(self, item_id: int, state: str) -> int:
        bill = self.shop.floor.sheets[item_id]
        batch_id, _ = self._batches.pop(item_id)
        code = encode(batch_id, Prefix.BATCH)
        planned = 2 * (MIXED_BASE if bill.stage_is_mixing else PIECES[0])
        at = moment(self.shop.ledger.now)
        self.shop.writer.add(
            Batch, batch_id, code, item_id, bill.stage_id, bill.revision_id, state, planned, "",
            self.shop.floor.owner_id, at,
        )  # fmt: skip
        return batch_id

    def leave_running(self) -> None:
        """Write the batches that are under way on the last day."""
        for item_id in list(self._batches):
            self._write_batch(item_id, "running")

    def _undo(self, posting: int, changes: list[Change], lots: list[Held], *, by_id: int) -> None:
        back = [(lot, -qty, -value) for lot, qty, value in changes]
        back += [(lot, -lot.qty, -lot.value) for lot in lots]
        self.shop.ledger.post(
            "reversed", changes=back, by_id=by_id, reverses_id=posting, reason="wrong count"
        )
