"""What is to be done about an item, in plain words."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from enum import StrEnum
from typing import Final, NamedTuple

import numpy as np

from batches.planning.rules.receipts import Advice, Receipt, moved
from batches.planning.rules.weeks import DAYS_PER_WEEK, monday_of
from batches.planning.selectors.leads import LeadSource
from batches.planning.selectors.planning import WEEKS, Coming, Planning
from inventory.catalog.models import Item, ItemKind
from inventory.catalog.selectors import measure_of
from shopfloor.units import display

_MADE_KINDS: Final = {
    ItemKind.HALF, ItemKind.BODY, ItemKind.PAINTED_BODY, ItemKind.LURE, ItemKind.SET,
}  # fmt: skip


class ActionKind(StrEnum):
    """What is to be done, or what stands in the way."""

    OUT_OF_USE = "out_of_use"
    NO_CURRENT_BILL = "no_current_bill"
    NO_OFFER = "no_offer"
    PAST_DUE = "past_due"
    ORDER_NOW = "order_now"
    START_NOW = "start_now"
    PROMISE_PAST = "promise_past"
    OVERDUE = "overdue"
    EXPEDITE = "expedite"
    POSTPONE = "postpone"
    CANCEL = "cancel"
    LEAD_TIME_UNKNOWN = "lead_time_unknown"


class Action(NamedTuple):
    """One thing to do.

    Attributes:
        document: The order or batch it is about, or empty.
        qty_base: The amount it is about; None: it is not about one.
        detail: Why, in a sentence or two.
    """

    kind: ActionKind
    document: str
    qty_base: int | None
    detail: str


class Acting:
    """What is to be done, item by item. No statement."""

    def __init__(self, planned: Planning) -> None:
        self.planned = planned
        found = planned.found
        self.now_base = found.released_base[:, 0].tolist() if len(planned.items) else []
        self.late_base = found.late_base.tolist()
        self.planned_weeks: list[int] = np.count_nonzero(found.planned_base, axis=1).tolist()
        self.taken_weeks: list[int] = np.count_nonzero(found.gross_base, axis=1).tolist()
        self.first_week = np.argmax(found.planned_base > 0, axis=1).tolist()
        self.coming: dict[int, list[Coming]] = {}
        for each in sorted(planned.coming, key=lambda each: (each.week, each.due_on, each.code)):
            self.coming.setdefault(planned.places[each.item_id], []).append(each)
        self.past: dict[int, list[Action]] = {}
        for asked in planned.wanted:
            due_on = asked.root.due_on
            if asked.root.kind == "order" and due_on is not None and due_on < planned.on:
                place = planned.places[asked.item_id]
                words = (
                    f"Order {asked.root.code} was promised for {due_on} and waits for "
                    f"{_shown(planned.items[place], asked.qty_base)}."
                )
                self.past.setdefault(place, []).append(
                    Action(ActionKind.PROMISE_PAST, asked.root.code, asked.qty_base, words)
                )

    def order_on(self, place: int) -> date | None:
        """The Monday by which the first planned order is placed or begun; None: none is planned."""
        if not self.planned_weeks[place]:
            return None
        week = self.first_week[place] - self.planned.leads[place].weeks
        return monday_of(week, first_on=self.planned.first_on)

    def is_called_for(self, place: int) -> bool:
        """Whether anything is to be done about one item."""
        return (
            self.now_base[place] > 0
            or place in self.past
            or any(self._in_the_way(place))
            or any(self._to_move(place))
        )

    def of(self, place: int) -> list[Action]:
        """What to do about one item, what stands in the way first."""
        return [
            *self._in_the_way(place),
            *self.past.get(place, ()),
            *self._to_order(place),
            *self._to_move(place),
        ]

    def _in_the_way(self, place: int) -> Iterator[Action]:
        item = self.planned.items[place]
        if not item.is_active and self.taken_weeks[place]:
            yield Action(
                ActionKind.OUT_OF_USE,
                "",
                None,
                "It is out of use and still needed. Take it out of plans and bills, or into use.",
            )
        if not self.planned_weeks[place] or item.pk in self.planned.bills:
            return
        if item.pk not in self.planned.offers and item.kind in _MADE_KINDS:
            yield Action(
                ActionKind.NO_CURRENT_BILL,
                "",
                None,
                "It is to be made, and no current bill says of what: nothing below it is planned. "
                "Release a revision.",
            )
        elif item.pk not in self.planned.offers:
            yield Action(
                ActionKind.NO_OFFER, "", None, "Nobody offers it. Enter a supplier's offer."
            )
        lead = self.planned.leads[place]
        if lead.source is LeadSource.UNKNOWN:
            yield Action(
                ActionKind.LEAD_TIME_UNKNOWN,
                "",
                None,
                f"Nobody said how long it takes: {lead.days} days are taken. "
                "Enter the days that the supplier quotes.",
            )

    def _to_order(self, place: int) -> Iterator[Action]:
        late, now = self.late_base[place], self.now_base[place] - self.late_base[place]
        item, is_made = self.planned.items[place], self._is_made(place)
        verb = "Start" if is_made else "Order"
        kind = ActionKind.START_NOW if is_made else ActionKind.ORDER_NOW
        if late and not self._runs_out(place):
            words = (
                f"{verb} {_shown(item, late)} this week: it fills up the safety stock. Without it, "
                "too, nothing planned runs out before it comes."
            )
            yield Action(kind, "", late, words)
        elif late:
            by_on = self.order_on(place)
            assert by_on is not None
            weeks = (self.planned.first_on - by_on).days // DAYS_PER_WEEK
            yield Action(
                ActionKind.PAST_DUE,
                "",
                late,
                f"{verb} {_shown(item, late)} at once: to be in time it had to be by {by_on}. "
                f"It comes up to {_weeks(weeks)} late unless somebody hurries.",
            )
        if now:
            yield Action(kind, "", now, f"{verb} {_shown(item, now)} this week.")

    def _to_move(self, place: int) -> Iterator[Action]:
        coming = self.coming.get(place)
        if not coming:
            return
        within = [each for each in coming if each.week < WEEKS]
        advice = moved([Receipt(each.week, each.qty_base) for each in within], self._short(place))
        item, first_on = self.planned.items[place], self.planned.first_on
        for each, move in zip(within, advice, strict=True):
            amount = _shown(item, each.qty_base)
            if each.due_on < self.planned.on and each.batch is None:
                words = f"{each.code} should have come on {each.due_on}: {amount}. Ask for it."
                yield Action(ActionKind.OVERDUE, each.code, each.qty_base, words)
            if move is None:
                continue
            if move.week is None:
                words = f"Nothing needs the {amount} of {each.code}. Cancel it if that can be."
                yield Action(ActionKind.CANCEL, each.code, each.qty_base, words)
                continue
            needed_on = monday_of(move.week, first_on=first_on)
            verb = "Bring forward" if move.advice is Advice.EXPEDITE else "Put off"
            words = (
                f"{verb} {each.code}, {amount}, from {each.due_on} to the week of {needed_on}: "
                "it is needed then."
            )
            yield Action(ActionKind(move.advice.value), each.code, each.qty_base, words)

    def _runs_out(self, place: int) -> bool:
        """Whether it is used up, safety stock and all, before a new order can come."""
        inputs, found = self.planned.inputs, self.planned.found
        came = inputs.receipts_base[place] - found.gross_base[place]
        left = inputs.on_hand_base[place] - found.spoiled_base[place] + np.cumsum(came)
        return bool((left[: self.planned.leads[place].weeks] < 0).any())

    def _short(self, place: int) -> list[int]:
        """What is needed until each week beyond what is on hand."""
        inputs, found = self.planned.inputs, self.planned.found
        short = np.cumsum(found.gross_base[place]) + found.spoiled_base[place]
        short += inputs.safety_base[place] - inputs.on_hand_base[place]
        needed: list[int] = np.maximum.accumulate(np.maximum(short, 0)).tolist()
        return needed

    def _is_made(self, place: int) -> bool:
        item = self.planned.items[place]
        return item.pk in self.planned.bills or (
            item.kind in _MADE_KINDS and item.pk not in self.planned.offers
        )


def _shown(item: Item, qty_base: int) -> str:
    return display(qty_base, item.display_unit, measure_of(item))


def _weeks(weeks: int) -> str:
    return "1 week" if weeks == 1 else f"{weeks} weeks"


def week_end(first_on: date, weeks: int) -> date:
    """The last day of so many weeks."""
    return first_on + timedelta(days=DAYS_PER_WEEK * weeks - 1)
