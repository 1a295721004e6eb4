"""What runs yielded, by item and by stage."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Final, Literal, NamedTuple

from django.db.models import F, Sum

from batches.bills.selectors.sheets import BillSheet
from batches.planning.rules.yields import RunCount, Yield, next_yield
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
    rows = (
        Entry.objects.filter(
            posting__reversed_by__isnull=True,
            posting__at__gte=now - timedelta(days=YIELD_DAYS),
            posting__at__lte=now,
            batch__revision__isnull=False,
            batch__stage__in={sheet.stage_id for sheet in wanted},
        )
        .order_by("batch_id")
        .values_list("batch_id", "batch__item_id", "batch__stage_id")
        .annotate(good=Sum("good_base"), worked=Sum(F("good_base") + F("scrapped_base")))
    )
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


def _learned(sheet: BillSheet, own: list[RunCount], of_stage: list[RunCount]) -> Learned:
    source: Source = "own" if len(own) >= RUNS_FEW else "stage" if of_stage else "plan"
    runs = {"own": own, "stage": of_stage, "plan": []}[source][-RUNS_MAX:]
    planned = float(1 - sheet.scrap_ratio)
    return Learned(next_yield(runs, planned=planned), len(runs), source)
