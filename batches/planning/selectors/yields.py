"""What runs yielded, by item and by stage."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final, Literal, NamedTuple

from django.db.models import F, QuerySet, Sum

from batches.bills.selectors.sheets import BillSheet
from batches.planning.rules.yields import RunCount, Yield, next_yield, plain_yield
from batches.planning.selectors.making import Bill
from batches.runs.models import Entry

YIELD_DAYS: Final = 730
"""Runs older than two years tell of another shop; no source."""

RUNS_MAX: Final = 60
"""The latest runs tell; more change little."""

RUNS_FEW: Final = 3
"""With fewer of its own, an item is taken to yield what its stage does."""

Source = Literal["own", "stage", "plan"]
SOURCES: Final[tuple[Source, ...]] = ("own", "stage", "plan")


class Learned(NamedTuple):
    """The yield of an item's next run, and what it was learned from.

    Attributes:
        source: Its own runs; those of all items at its stage; or nothing but the bill's plan.
    """

    next_yield: Yield
    runs: int
    source: Source


def learned_yields(sheets: Iterable[BillSheet], now: datetime) -> dict[str, Learned]:
    """Of the items of some bills, by code. One statement."""
    wanted = list(sheets)
    rows = _run_counts(now).filter(batch__stage__in={sheet.stage_id for sheet in wanted})
    own: dict[int, list[RunCount]] = defaultdict(list)
    of_stage: dict[int, list[RunCount]] = defaultdict(list)
    for _, item_id, stage_id, good, worked in rows:
        run = RunCount(int(worked), int(good))
        own[item_id].append(run)
        of_stage[stage_id].append(run)
    return {
        sheet.item.code: _learned(sheet, own[sheet.item.id], of_stage[sheet.stage_id])
        for sheet in wanted
    }


class GoodShare(NamedTuple):
    """Good pieces a started piece of an item, and who says so.

    Attributes:
        source: A person; its latest runs; or, with fewer than `RUNS_FEW`, its bill.
        runs: How many of them; 0 where they do not tell.
    """

    share: Fraction
    source: Literal["set", "runs", "bill"]
    runs: int = 0


GOOD_SOURCES: Final = ("set", "runs", "bill")


def good_shares(
    bills: Mapping[int, Bill], *, scrap_set: Mapping[int, Decimal], now: datetime
) -> dict[int, GoodShare]:
    """Of what is made, by item id; what a person set stands. One statement.

    A mixture yields what its bill says: its runs are not counted in pieces.
    """
    own: dict[int, list[RunCount]] = defaultdict(list)
    for _, item_id, _, good, worked in _run_counts(now):
        if worked:
            own[item_id].append(RunCount(int(worked), int(good)))
    found = {}
    for item_id, bill in bills.items():
        runs = own[item_id][-RUNS_MAX:]
        if item_id in scrap_set:
            found[item_id] = GoodShare(1 - Fraction(scrap_set[item_id]), "set")
        elif len(runs) < RUNS_FEW or bill.is_mixing:
            found[item_id] = GoodShare(bill.good, "bill")
        else:
            found[item_id] = GoodShare(plain_yield(runs, planned=bill.good), "runs", len(runs))
    return found


def _run_counts(now: datetime) -> QuerySet[Entry, tuple[Any, ...]]:
    """Batch, item, stage, good and worked pieces of every run, the oldest first."""
    return (
        Entry.objects.filter(
            posting__reversed_by__isnull=True,
            posting__at__gte=now - timedelta(days=YIELD_DAYS),
            posting__at__lte=now,
            batch__revision__isnull=False,
        )
        .order_by("batch_id")
        .values_list("batch_id", "batch__item_id", "batch__stage_id")
        .annotate(good=Sum("good_base"), worked=Sum(F("good_base") + F("scrapped_base")))
    )


def _learned(sheet: BillSheet, own: list[RunCount], of_stage: list[RunCount]) -> Learned:
    source: Source = "own" if len(own) >= RUNS_FEW else "stage" if of_stage else "plan"
    runs = {"own": own, "stage": of_stage, "plan": []}[source][-RUNS_MAX:]
    planned = float(1 - sheet.scrap_ratio)
    return Learned(next_yield(runs, planned=planned), len(runs), source)
