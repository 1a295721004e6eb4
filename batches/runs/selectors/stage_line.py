"""The stages in the order of the shop: what waits before each, what runs, how much was good."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Final

from django.db.models import Count, Q, Sum

from batches.bills.models import BillLine, LineRole, RevisionState, Stage
from batches.runs.models import Batch, BatchState, Entry
from batches.runs.rules import yield_ratio
from batches.runs.selectors.batches import STANDING
from inventory.stock.models import Disposition, Lot
from shopfloor.units import Dimension

RUNNING_MOST: Final = 200  # of the whole shop; the list of batches has all


@dataclass(frozen=True, slots=True)
class RunningBatch:
    """A batch that runs, or is held."""

    code: str
    item: str
    state: str


@dataclass(frozen=True, slots=True)
class Waiting:
    """Pieces the shop made that a stage takes next."""

    lots: int = 0
    pieces: int = 0
    held_pieces: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class LineStage:
    """A stage in the line.

    Attributes:
        waiting: What waits before it: usable pieces, and those that may not be used.
        batches: How many are planned, idle, running and held.
        running: Those that run or are held.
        yield_ratio: Good of all that was recorded in the last days, 0 to 1; None without any.
    """

    code: str
    name: str
    is_mixing: bool
    waiting: Waiting
    batches: Mapping[str, int]
    running: Sequence[RunningBatch]
    yield_ratio: Decimal | None


@dataclass(frozen=True, slots=True)
class StageLine:
    """All stages in use, in order, and over how many days their yield is."""

    days: int
    stages: Sequence[LineStage] = field(default_factory=list)


def stage_line(*, days: int, now: datetime) -> StageLine:
    """The line of stages. Six statements, whatever the size of the shop."""
    waiting = _waiting(now)
    counts: dict[int, dict[str, int]] = defaultdict(dict)
    open_batches = Batch.objects.filter(state__in=OPEN_STATES).order_by()
    for stage_id, state, count in open_batches.values_list("stage", "state").annotate(Count("pk")):
        counts[stage_id][state] = count
    running = _running()
    came_out = {
        stage_id: yield_ratio(good=good, scrapped=scrapped)
        for stage_id, good, scrapped in Entry.objects.filter(
            STANDING, posting__at__gt=now - timedelta(days=days), posting__at__lte=now
        )
        .order_by()
        .values_list("batch__stage")
        .annotate(good=Sum("good_base"), scrapped=Sum("scrapped_base"))
    }
    return StageLine(
        days,
        [
            LineStage(
                code=stage.code,
                name=stage.name,
                is_mixing=stage.is_mixing,
                waiting=waiting.get(stage.pk, Waiting()),
                batches={state: counts[stage.pk].get(state, 0) for state in OPEN_STATES},
                running=running.get(stage.pk, []),
                yield_ratio=came_out.get(stage.pk),
            )
            for stage in Stage.objects.filter(is_active=True)
        ],
    )


OPEN_STATES: Final = (
    BatchState.PLANNED.value,
    BatchState.IDLE.value,
    BatchState.RUNNING.value,
    BatchState.HELD.value,
)


def _running() -> dict[int, list[RunningBatch]]:
    found: dict[int, list[RunningBatch]] = defaultdict(list)
    rows = Batch.objects.filter(state__in=(BatchState.RUNNING, BatchState.HELD)).order_by("id")
    for stage_id, *facts in rows.values_list("stage", "code", "item__code", "state")[:RUNNING_MOST]:
        found[stage_id].append(RunningBatch(*facts))
    return found


def _waiting(now: datetime) -> dict[int, Waiting]:
    """By stage: pieces of items that we make and that a current bill of it takes."""
    takers: dict[int, set[int]] = defaultdict(set)
    lines = BillLine.objects.filter(
        role=LineRole.TAKEN,
        revision__state=RevisionState.CURRENT,
        item__bill__isnull=False,
        item__dimension=Dimension.COUNT,
    )
    for item_id, stage_id in lines.order_by().values_list("item", "revision__bill__stage"):
        takers[item_id].add(stage_id)
    usable = Q(disposition=Disposition.RELEASED)
    usable &= Q(expires_at__isnull=True) | Q(expires_at__gte=now)
    usable &= Q(discard_at__isnull=True) | Q(discard_at__gte=now)
    sums = (
        Lot.objects.filter(on_hand_base__gt=0, owner="", item__in=list(takers))
        .order_by()
        .values_list("item")
        .annotate(
            lots=Count("pk", filter=usable),
            pieces=Sum("on_hand_base", filter=usable, default=0),
            all_pieces=Sum("on_hand_base"),
        )
    )
    found: dict[int, list[Waiting]] = defaultdict(list)
    for item_id, lots, pieces, all_pieces in sums:
        for stage_id in takers[item_id]:
            found[stage_id].append(Waiting(lots, pieces, all_pieces - pieces))
    return {stage_id: _sum(rows) for stage_id, rows in found.items()}


def _sum(rows: Iterable[Waiting]) -> Waiting:
    rows = list(rows)
    return Waiting(
        sum(row.lots for row in rows),
        sum(row.pieces for row in rows),
        sum(row.held_pieces for row in rows),
    )
