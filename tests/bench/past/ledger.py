"""The made-up shop's ledger while it is generated: lots in memory, postings to the writer."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Sequence
from random import Random
from typing import Final

from inventory.stock.models import Lot, LotEvent, Movement, Posting
from shopfloor.codes.alphabet import encode
from shopfloor.money import share
from tests.bench.past.writing import Writer, moment

RESTING: Final = 20_000  # postings after which an emptied lot is written: it is not touched again


class Held:
    """A lot: what the table has, as plain values; times in seconds since 1970."""

    __slots__ = (
        "born_at",
        "code",
        "discard_at",
        "disposition",
        "expires_at",
        "grade",
        "id",
        "item_id",
        "last_posting",
        "opened_at",
        "parent_id",
        "place_id",
        "qty",
        "splits",
        "supplier_id",
        "supplier_lot",
        "touched_at",
        "value",
    )

    def __init__(
        self,
        *,
        item_id: int,
        place_id: int,
        qty: int,
        value: int,
        grade: str = "first",
        parent: Held | None = None,
        expires_at: int | None = None,
        supplier_id: int | None = None,
        supplier_lot: str = "",
        disposition: str = "released",
    ) -> None:
        self.item_id, self.place_id, self.qty, self.value = item_id, place_id, qty, value
        self.grade, self.disposition, self.expires_at = grade, disposition, expires_at
        self.supplier_id, self.supplier_lot = supplier_id, supplier_lot
        self.id = self.born_at = self.touched_at = self.last_posting = 0
        self.splits: int = 0
        self.parent_id: int | None = None
        self.code = ""
        if parent is not None:
            parent.splits += 1
            self.parent_id, self.code = parent.id, f"{parent.code}.{parent.splits}"
        self.opened_at: int | None = None
        self.discard_at: int | None = None


Change = tuple[Held, int, int]
"""A lot, and the base units and value that it gains."""


class Ledger:
    """Posts into the writer and keeps what is on the shelves.

    Attributes:
        now: Seconds since 1970; goes forward.
        shelf: Released lots of first grade by item, oldest first.
    """

    def __init__(self, writer: Writer, random: Random, *, now: int) -> None:
        self.writer, self.random, self.now = writer, random, now
        self.lots: dict[int, Held] = {}
        self.shelf: dict[int, deque[Held]] = defaultdict(deque)
        self.movements_taken = 0
        self._emptied: deque[Held] = deque()

    def on_shelf(self, item_id: int) -> int:
        """Base units of an item that may be used."""
        return sum(lot.qty for lot in self.shelf[item_id])

    def pull(self, item_id: int, need: int, *, most: int) -> list[Change]:
        """Take an amount of an item, out of up to `most` open lots while they suffice."""
        shelf = self.shelf[item_id]
        while shelf and not shelf[0].qty:
            shelf.popleft()
        filled = [lot for lot in shelf if lot.qty]
        if len(filled) < len(shelf):
            self.shelf[item_id] = deque(filled)
        takes: dict[int, int] = {}
        part = -(-need // most)
        for lot in filled[:most]:
            takes[lot.id] = min(part, lot.qty, need)
            need -= takes[lot.id]
        for lot in filled:
            if not need:
                break
            more = min(need, lot.qty - takes.get(lot.id, 0))
            takes[lot.id] = takes.get(lot.id, 0) + more
            need -= more
        assert not need, "the caller looked"
        return [self.take(self.lots[lot_id], qty) for lot_id, qty in takes.items() if qty]

    def take(self, lot: Held, qty: int) -> Change:
        """So much of a lot, with its share of the value."""
        return (lot, -qty, -share(lot.value, qty, lot.qty))

    def post(
        self,
        kind: str,
        *,
        changes: Sequence[Change] = (),
        makes: Sequence[Held] = (),
        at: int = 0,
        by_id: int,
        outside_kind: str = "",
        document: tuple[str, str] = ("", ""),
        reverses_id: int | None = None,
        reason: str = "",
    ) -> int:
        """Write a posting and its movements; its number."""
        writer = self.writer
        at = max([at or self.now, *(lot.born_at for lot, _, _ in changes)])
        self.now = max(self.now, at)
        outside = sum(value for _, _, value in changes) + sum(lot.value for lot in makes)
        number = writer.append(
            Posting,
            kind,
            moment(at),
            moment(self.now),
            by_id,
            reason,
            outside_kind,
            outside,
            *document,
            reverses_id,
        )
        for lot, qty, value in changes:
            writer.append(Movement, number, lot.id, qty, value)
            lot.qty += qty
            lot.value += value
            lot.touched_at = max(lot.touched_at, at)
            lot.last_posting = number
            if qty < 0:
                self.movements_taken += 1
            if not lot.qty:
                self._emptied.append(lot)
        for count, lot in enumerate(makes, 1):
            self._bear(lot, number, count, at)
            writer.append(Movement, number, lot.id, lot.qty, lot.value)
        self._write_old(number)
        return number

    def note(self, lot: Held, kind: str, before: str, after: str, *, by_id: int) -> None:
        """Write an event of a lot; the caller has changed what the lot is."""
        at = moment(self.now)
        self.writer.append(LotEvent, lot.id, kind, at, at, by_id, before, after, "", None)
        lot.touched_at = self.now

    def write_rest(self) -> None:
        """Write the lots that are not written yet."""
        for lot in self.lots.values():
            self._write(lot)
        self.lots.clear()

    def _bear(self, lot: Held, posting: int, count: int, at: int) -> None:
        code = encode(posting, "L")
        lot.id = self.writer.next_id(Lot)
        lot.code = lot.code or (code if count == 1 else f"{code}-{count}")
        lot.born_at = lot.touched_at = at
        lot.last_posting = posting
        self.lots[lot.id] = lot

    def _write_old(self, posting: int) -> None:
        while self._emptied and self._emptied[0].last_posting < posting - RESTING:
            lot = self._emptied.popleft()
            if not lot.qty and lot.id in self.lots:
                self._write(self.lots.pop(lot.id))

    def _write(self, lot: Held) -> None:
        self.writer.add(
            Lot,
            lot.id,
            lot.code,
            lot.item_id,
            lot.parent_id,
            lot.place_id,
            "",
            lot.grade,
            lot.disposition,
            lot.supplier_id,
            lot.supplier_lot,
            moment(lot.born_at),
            _maybe(lot.expires_at),
            _maybe(lot.opened_at),
            _maybe(lot.discard_at),
            lot.qty,
            lot.value,
            moment(lot.touched_at),
            lot.splits,
        )


def _maybe(at: int | None) -> str | None:
    return None if at is None else moment(at)
