"""Rules of what people and accountants do to lots."""

# ruff: noqa: D102, FBT001 - rules are called by their machine, by name
from __future__ import annotations

from hypothesis import strategies as st
from hypothesis.stateful import precondition, rule

from inventory.stock import operations as stock
from inventory.stock.models import Hold
from shopfloor.days import shop_day
from tests.batches.runs import conftest as runs
from tests.inventory.stock.machine import (
    MINUTE,
    OPENED_LIFE,
    Floor,
    ago,
    has_lots,
    part_of,
    percents,
    picks,
)
from tests.inventory.stock.shadow import ShadowLot


class Handling(Floor):
    """A shop that handles its lots, and keeps its books."""

    @rule(minutes=st.sampled_from([1, 20, 120, 1_500]))
    def time_passes(self, minutes: int) -> None:
        self.minute += minutes

    # What is done to a lot.

    @precondition(has_lots)
    @rule(pick=picks, percent=percents, place=st.sampled_from(["", "BENCH", "SHELF"]), back=ago)
    def split(self, pick: int, percent: int, place: str, back: int) -> None:
        lot = self.lot(pick)
        qty = part_of(lot, percent)
        part = self.tried(
            "split",
            lambda: stock.split_off(
                lot_code=lot.code, qty_base=qty, place_code=place, stamp=self.stamp(back)
            ),
        )
        if part is not None:
            self.split_in_two(lot, part.code, qty, back)

    @precondition(has_lots)
    @rule(pick=picks, place=st.sampled_from(["BENCH", "SHELF"]), back=ago)
    def move(self, pick: int, place: str, back: int) -> None:
        code = self.lot(pick).code
        self.tried(
            "move",
            lambda: stock.move_lot(lot_code=code, place_code=place, stamp=self.stamp(back)),
        )

    @precondition(has_lots)
    @rule(pick=picks, percent=percents, back=ago)
    def opened(self, pick: int, percent: int, back: int) -> None:
        lot, at = self.lot(pick), self.minute - back
        qty = part_of(lot, percent)
        opened = self.tried(
            "open",
            lambda: stock.open_lot(lot_code=lot.code, qty_base=qty, stamp=self.stamp(back)),
        )
        if opened is not None:
            assert lot.opened is None
            if opened.code != lot.code:
                lot = self.split_in_two(lot, opened.code, qty, back)
            lot.opened = (at, at + OPENED_LIFE if lot.item == "ADH-A" else None)

    @precondition(has_lots)
    @rule(pick=picks, back=ago)
    def hold(self, pick: int, back: int) -> None:
        code = self.lot(pick).code
        hold = self.tried("hold", lambda: stock.hold_lot(lot_code=code, stamp=self.stamp(back)))
        if hold is not None:
            self.shadow.held(code, hold.pk, self.minute - back)

    @precondition(lambda self: self.shadow.holds)
    @rule(pick=picks, back=ago)
    def hold_ended(self, pick: int, back: int) -> None:
        number = list(self.shadow.holds)[pick % len(self.shadow.holds)]
        code = Hold.objects.get(pk=number).code
        freed = self.tried(
            "hold ended", lambda: stock.release_hold(hold_code=code, stamp=self.stamp(back))
        )
        if freed is not None:
            self.shadow.released(number, self.minute - back)

    @precondition(has_lots)
    @rule(pick=picks, back=ago)
    def release(self, pick: int, back: int) -> None:
        lot, at = self.lot(pick), self.minute - back
        released = self.tried(
            "release", lambda: stock.release_lot(lot_code=lot.code, stamp=self.stamp(back))
        )
        if released is None:
            return
        if lot.holds:
            (number,) = lot.holds
            assert self.shadow.holds[number][0] == lot.code, "it was released past a hold"
            assert not lot.is_rejected, "it was released past a hold"
            self.shadow.released(number, at)
        else:
            lot.is_rejected, lot.changed = False, at
            for stop in lot.stops:
                stop.until = at if stop.until is None else stop.until

    @precondition(has_lots)
    @rule(pick=picks, back=ago, is_meant=st.sampled_from([False, True]))
    def reject(self, pick: int, back: int, is_meant: bool) -> None:
        lot, at = self.lot(pick), self.minute - back
        if not is_meant:  # or too little would be left to be used
            return
        if self.tried(
            "reject", lambda: stock.reject_lot(lot_code=lot.code, stamp=self.stamp(back))
        ):
            assert at >= lot.changed
            lot.stopped("rejected", at)
            lot.is_rejected, lot.changed = True, at

    @precondition(has_lots)
    @rule(pick=picks, more=st.sampled_from([10, 3_000]), back=ago)
    def extend(self, pick: int, more: int, back: int) -> None:
        lot, at = self.lot(pick), self.minute - back
        until = at + more
        if self.tried(
            "extend",
            lambda: stock.extend_expiry(
                lot_code=lot.code,
                expires_at=runs.NOON + until * MINUTE,
                stamp=self.stamp(back),
            ),
        ):
            lot.lives.append((at, until))

    # What an accountant does.

    @precondition(has_lots)
    @rule(pick=picks, percent=percents, back=ago)
    def dispose(self, pick: int, percent: int, back: int) -> None:
        lot = self.lot(pick)
        qty = part_of(lot, percent)
        if self.tried(
            "dispose",
            lambda: stock.dispose_of_lot(lot_code=lot.code, qty_base=qty, stamp=self.stamp(back)),
        ):
            self.taken_out(lot, qty, back)

    def corrected(self, lot: ShadowLot, found: int, back: int) -> None:
        """A lot holds something else than the books said: with what value?"""
        more = found - lot.qty
        if more < 0:
            self.taken_out(lot, -more, back)
        elif more > 0:
            qty, value = (lot.qty, lot.value) if lot.qty else lot.came_in
            change = (more, value * more // qty)
            self.shadow.happened(self.minute - back, {lot.code: change}, outside=change[1])

    @precondition(has_lots)
    @rule(pick=picks, by=st.sampled_from([-10_000, -3, -1, 1, 20, 9_999]), back=ago)
    def adjust(self, pick: int, by: int, back: int) -> None:
        lot = self.lot(pick)
        if self.tried(
            "adjust",
            lambda: stock.adjust_lot(lot_code=lot.code, qty_base=by, stamp=self.stamp(back)),
        ):
            self.corrected(lot, lot.qty + by, back)

    @precondition(has_lots)
    @rule(pick=picks, value=st.sampled_from([-999_983, -1, 0, 1, 31]), back=ago)
    def revalue(self, pick: int, value: int, back: int) -> None:
        lot = self.lot(pick)
        if self.tried(
            "revalue",
            lambda: stock.revalue_lot(lot_code=lot.code, value_micro=value, stamp=self.stamp(back)),
        ):
            self.shadow.happened(self.minute - back, {lot.code: (0, value)}, outside=value)

    @precondition(has_lots)
    @rule(pick=picks, percent=st.sampled_from([0, 99, 100, 100, 103]), more=st.integers(0, 2))
    def count(self, pick: int, percent: int, more: int) -> None:
        lot = self.lot(pick)
        found = lot.qty * percent // 100 + more
        if self.tried(
            "count",
            lambda: stock.count_lots(found=[stock.Found(lot.code, found)], stamp=self.stamp()),
        ):
            self.corrected(lot, found, 0)
            self.shadow.counted(lot.code, self.minute)

    @precondition(lambda self: self.minute > 2 * 1_440)
    @rule()
    def books_closed(self) -> None:
        day = shop_day(runs.NOON + (self.minute - 1_440) * MINUTE)
        if self.tried("books closed", lambda: stock.close_books(through=day, stamp=self.stamp())):
            days = (day - shop_day(runs.NOON)).days
            self.shadow.closed_before = days * 1_440 + 720  # noon to midnight
