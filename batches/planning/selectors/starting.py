"""How many pieces to start at each stage, and by when, for people."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Final, NamedTuple

from batches.planning.errors import ChanceOutOfReachError, WheelTooFastError
from batches.planning.rules.lasting import Lasting, Wheel, day_before, start_on_last
from batches.planning.rules.starting import (
    START_TIMES_MAX,
    Stage,
    Started,
    start_by_means,
    start_plan,
)
from batches.planning.rules.yields import PRIOR_PIECES
from batches.planning.selectors.shop import ShopToday, refuse_not_made, shop_today
from batches.planning.selectors.yields import Learned, learned_yields
from inventory.catalog.models import DimensionKind, ItemKind
from inventory.catalog.selectors import one_equipment
from shopfloor.days import shop_day
from shopfloor.errors import InvalidInputError

HOURS_A_DAY: Final = Decimal(8)
DAYS_A_WEEK: Final = 5
"""Mondays to Fridays, one person; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How fast the shop works.

    Attributes:
        hours_a_day: Bench hours a working day at one stage, all people together.
        days_a_week: Working days from Monday on.
        coats: Of paint; each dries before the next.
        drying_hours: Of one coat.
        wheel: Code of the gluing wheel; empty: clamping is not looked at.
        clamp_seconds: The adhesive maker's figure.
        index_seconds: From one station to the next; None: as fast as the clamping allows.
    """

    hours_a_day: Decimal = HOURS_A_DAY
    days_a_week: int = DAYS_A_WEEK
    coats: int = 0
    drying_hours: Decimal = Decimal(0)
    wheel: str = ""
    clamp_seconds: int | None = None
    index_seconds: Decimal | None = None


class StartRow(NamedTuple):
    """One run to start.

    Attributes:
        start: Pieces; None: all good ones of the stage before, with what waits.
        comes: Pieces worked on, on average, and where that lies nine times in ten.
        waiting: Good ones of the same that stand there already, for the stages after.
        yield_sd: How much a next run's may differ, standard deviation.
        yield_planned: What the bill plans.
        hours: At the bench for as many as may come; None: no entry says.
        start_on_last: To be ready in time; None without a day.
    """

    item: str
    item_name: str
    stage: str
    start: int | None
    comes: int
    comes_low: int
    comes_high: int
    good: int
    good_low: int
    good_high: int
    waiting: int
    yield_mean: str
    yield_sd: str
    yield_planned: str
    runs: int
    yield_source: str
    hours: str | None
    start_on_last: date | None


class StartingRow(NamedTuple):
    """What to start.

    Attributes:
        sure: The chance reached.
        sure_with_one_fewer: The same with one piece fewer started.
        by_means: What mean yields alone would start, by item: enough about half the time.
        is_late: A stage should have been started before today.
    """

    item: str
    item_name: str
    wanted: int
    chance: str
    sure: str
    sure_with_one_fewer: str
    by_means: dict[str, int]
    due_on: date | None
    start_on_last: date | None
    is_late: bool
    steps: list[StartRow]
    why: list[str]


def starting(
    *,
    item_code: str,
    good: int,
    chance: Decimal,
    now: datetime,
    due_on: date | None = None,
    pace: Pace = Pace(),
) -> StartingRow:
    """How many to start so that enough are good. Eight statements, nine with a wheel.

    Args:
        item_code: What is wanted.
        good: Good ones, new ones, >= 1.
        chance: From 0.5 to 0.99.
        now: When.
        due_on: The day they must be ready.
        pace: How fast the shop works.

    Raises:
        NotFoundError, NotActiveError, NoCurrentBillError: it cannot be made.
        InvalidInputError: a mixture, the day is over, or a wheel without clamp time or stations.
        ChanceOutOfReachError: no sensible number is enough.
        WheelTooFastError: it turns faster than the clamping allows.
    """
    today = shop_today(now)
    refuse_not_made(today, item_code)
    if today.items[item_code].dimension != DimensionKind.COUNT:
        raise InvalidInputError(
            f"{item_code} is no pieces. Ask for something that is counted.", item=item_code
        )
    if due_on is not None and due_on < shop_day(now):
        raise InvalidInputError("That day is over. Give a day to come.", due_on=str(due_on))
    wheel = _wheel(pace)
    tree = _Tree(today, now)
    tree.add(item_code)
    plan = start_plan(tree.stages, item_code, good=good, chance=float(chance))
    if plan is None:
        raise ChanceOutOfReachError(
            f"Even {START_TIMES_MAX * good} started are not surely enough: the runs so far yielded"
            " too little or too unevenly. Look at the stages' scrap, or ask for a lower chance.",
            item=item_code,
        )
    lasting = {run.item: _lasting(tree, run, pace, wheel) for run in plan.runs}
    last_days = {} if due_on is None else tree.last_days(item_code, due_on, lasting, pace)
    steps = [_step(tree, run, last_days.get(run.item)) for run in plan.runs]
    first_on = min(last_days.values(), default=None)
    means = {
        tree.items[key]: count
        for key, count in start_by_means(tree.stages, item_code, good).items()
    }
    row = StartingRow(
        item=item_code,
        item_name=today.items[item_code].name,
        wanted=good,
        chance=f"{chance:f}",
        sure=f"{plan.chance:.4f}",
        sure_with_one_fewer=f"{plan.chance_with_one_fewer:.4f}",
        by_means=means,
        due_on=due_on,
        start_on_last=first_on,
        is_late=first_on is not None and first_on < shop_day(now),
        steps=steps,
        why=[],
    )
    return row._replace(why=[*_why(row), *_when(row, pace)])


class _Tree:
    """The stages below an item; one that is met twice stands twice, what waits of it once."""

    def __init__(self, today: ShopToday, now: datetime) -> None:
        self.today = today
        self.stages: dict[str, Stage] = {}
        self.items: dict[str, str] = {}
        self.learned: Mapping[str, Learned] = learned_yields(
            [sheet for sheet in today.sheets.values() if self._is_pieces(sheet.item.code)], now
        )

    def add(self, item: str) -> str:
        """Its stage and those below; the key of it."""
        met = sum(1 for each in self.items.values() if each == item)
        key = f"{item}#{met + 1}" if met else item
        self.items[key] = item
        takes = tuple(
            replace(take, item=self.add(take.item), stand_ins=())
            for take in self.today.shop.recipes[item].takes
            if take.item in self.today.sheets and self._is_pieces(take.item) and take.per_piece
        )
        self.stages[key] = Stage(
            next_yield=self.learned[item].next_yield,
            waiting=0 if met else self.today.shop.stock_base.get(item, 0),
            takes=takes,
        )
        return key

    def last_days(
        self, key: str, ready_on: date, lasting: Mapping[str, Lasting], pace: Pace
    ) -> dict[str, date]:
        """The last day to start each run; a stage is done the working day before the next."""
        if key not in lasting:
            return {}
        first_on = start_on_last(
            ready_on,
            lasting[key],
            hours_a_day=pace.hours_a_day,
            days_a_week=pace.days_a_week,
        )
        days = {key: first_on}
        for take in self.stages[key].takes:
            before = day_before(first_on, pace.days_a_week)
            days |= self.last_days(take.item, before, lasting, pace)
        return days

    def _is_pieces(self, item: str) -> bool:
        return self.today.items[item].dimension == DimensionKind.COUNT


def _wheel(pace: Pace) -> Wheel | None:
    if not pace.wheel:
        return None
    row = one_equipment(pace.wheel)
    stations = sum(1 for part in row.parts.all() if part.is_active)
    if not stations or pace.clamp_seconds is None:
        raise InvalidInputError(
            "A wheel needs stations and a clamp time. Name another, or give clamp_seconds.",
            wheel=pace.wheel,
            stations=stations,
        )
    wheel = Wheel(stations, pace.clamp_seconds, pace.index_seconds)
    if wheel.index_seconds is not None and wheel.index_seconds < wheel.index_seconds_min:
        least = float(wheel.index_seconds_min)
        raise WheelTooFastError(
            f"At {wheel.index_seconds:f} s from station to station a piece is clamped too short."
            f" With {stations} stations and {pace.clamp_seconds} s it takes {least:g} s or more.",
            index_seconds=f"{wheel.index_seconds:f}",
            index_seconds_min=f"{least:g}",
        )
    return wheel


def _lasting(tree: _Tree, run: Started, pace: Pace, wheel: Wheel | None) -> Lasting:
    """For as many pieces as may come."""
    item = tree.today.items[tree.items[run.item]]
    bench = tree.today.shop.recipes[item.code].minutes * run.comes.high / 60
    if item.kind == ItemKind.BODY and wheel is not None:
        bench = max(bench, wheel.hours(run.comes.high))
    if item.kind == ItemKind.PAINTED_BODY:
        return Lasting(bench, Fraction(pace.drying_hours) * pace.coats)
    return Lasting(bench)


def _step(tree: _Tree, run: Started, last_on: date | None) -> StartRow:
    code = tree.items[run.item]
    sheet, learned = tree.today.sheets[code], tree.learned[code]
    minutes = tree.today.shop.recipes[code].minutes
    return StartRow(
        item=code,
        item_name=sheet.item.name,
        stage=sheet.stage_code,
        start=run.start,
        comes=round(run.comes.mean),
        comes_low=run.comes.low,
        comes_high=run.comes.high,
        good=round(run.good.mean),
        good_low=run.good.low,
        good_high=run.good.high,
        waiting=tree.stages[run.item].waiting,
        yield_mean=f"{learned.next_yield.mean:.4f}",
        yield_sd=f"{learned.next_yield.sd:.4f}",
        yield_planned=f"{1 - sheet.scrap_ratio:f}",
        runs=learned.runs,
        yield_source=learned.source,
        hours=f"{float(minutes * run.comes.high / 60):.1f}" if minutes else None,
        start_on_last=last_on,
    )


def _why(row: StartingRow) -> Iterator[str]:
    starts = ", ".join(f"{step.start} of {step.item}" for step in row.steps if step.start)
    yield (
        f"Start {starts}: at least {row.wanted} of {row.item} come out good with a chance of"
        f" {float(row.sure):.1%}; with one fewer started, of {float(row.sure_with_one_fewer):.1%}."
    )
    by_means = ", ".join(f"{count} of {code}" for code, count in row.by_means.items())
    yield f"Mean yields alone would start {by_means}: enough about half the time."
    for step in row.steps:
        yield _yield_words(step)
    yield (
        "All good pieces go on, with those that wait; what is bought is taken to be there, and"
        " what fails a check later is not counted."
    )


def _when(row: StartingRow, pace: Pace) -> Iterator[str]:
    if row.start_on_last is None:
        return
    late = " That is over: begin now, or promise a later day." if row.is_late else ""
    yield f"To be ready in time, start the first stage on {row.start_on_last} at the latest.{late}"
    untimed = [step.item for step in row.steps if step.hours is None]
    if untimed:
        yield f"No entry says how long {', '.join(untimed)} takes: counted as a day."
    left_out = [] if pace.coats else ["drying (give coats, drying_hours)"]
    left_out += [] if pace.wheel else ["clamping (give wheel, clamp_seconds)"]
    if left_out:
        yield f"Not counted: {' and '.join(left_out)}."


def _yield_words(row: StartRow) -> str:
    mean, sd = float(row.yield_mean), float(row.yield_sd)
    if row.yield_source == "plan":
        return (
            f"{row.item} at {row.stage}: no run yet. The bill plans {float(row.yield_planned):.1%};"
            f" that is taken to be as sure as after {PRIOR_PIECES:.0f} pieces."
        )
    whose = "its runs" if row.yield_source == "own" else "runs of all items there"
    return (
        f"{row.item} at {row.stage}: by {row.runs} of {whose} a next run yields {mean:.1%},"
        f" give or take {sd:.1%} (standard deviation; few runs make it wider)."
    )
