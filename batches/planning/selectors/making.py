"""What items are made of, by their current bills, and how long a stage takes."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Any, Final, NamedTuple

from django.db.models import F, FilteredRelation, Max, Min, Q, QuerySet

from batches.bills.models import BillRevision, LineRole, RevisionState
from batches.planning.rules.requirements import PRODUCT_MAX
from batches.runs.models import Batch, BatchEvent, BatchState
from shopfloor.days import shop_day
from shopfloor.errors import InvalidInputError

BATCHES_KEPT: Final = 12
"""The latest batches tell how long it takes; common practice, no source."""


class Bill(NamedTuple):
    """How an item is made, by its current bill.

    Attributes:
        good: Good pieces a started piece.
    """

    item_id: int
    stage_id: int
    stage_name: str
    is_mixing: bool
    good: Fraction


class TakenLine(NamedTuple):
    """What a started piece of one item takes of another; losses of material included."""

    parent_id: int
    child_id: int
    per_piece: Fraction
    per_batch_base: int


class CurrentBills(NamedTuple):
    """All that are in force: by item id, and what they take."""

    bills: dict[int, Bill]
    lines: list[TakenLine]


def current_bills() -> CurrentBills:
    """Bills and their own items alone: alternatives are not planned. One statement.

    Raises:
        InvalidInputError: a line takes more a piece than can be counted.
    """
    taken = FilteredRelation("lines", condition=Q(lines__role=LineRole.TAKEN))
    rows: QuerySet[BillRevision, tuple[Any, ...]] = (
        BillRevision.objects.filter(state=RevisionState.CURRENT)
        .annotate(taken=taken)
        .order_by()
        .values_list(
            "bill__item_id",
            "bill__stage_id",
            "bill__stage__name",
            "bill__stage__is_mixing",
            "scrap_ratio",
            "taken__item_id",
            "taken__per_piece_base",
            "taken__loss_ratio",
            "taken__per_batch_base",
        )
    )
    found = CurrentBills({}, [])
    for row in rows.iterator(5000):
        parent, stage_id, stage_name, is_mixing, scrap_ratio = row[:5]
        child, per_piece, loss_ratio, per_batch_base = row[5:]
        if parent not in found.bills:
            good = 1 - Fraction(scrap_ratio)
            found.bills[parent] = Bill(parent, stage_id, stage_name, is_mixing, good)
        if child is not None:
            line = TakenLine(parent, child, _per_piece(per_piece, loss_ratio), per_batch_base)
            found.lines.append(line)
    for line in found.lines:
        if line.per_piece.numerator >= PRODUCT_MAX:
            raise InvalidInputError(
                "A bill takes more a piece than can be counted. Look for a slip in it.",
                item_id=line.parent_id,
            )
    return found


@lru_cache(maxsize=4096)
def _per_piece(per_piece_base: Decimal, loss_ratio: Decimal) -> Fraction:
    return Fraction(per_piece_base) / (1 - Fraction(loss_ratio))


class RunDays(NamedTuple):
    """Days of the latest finished batches, from start to end: of an item, and of a stage."""

    of_item: dict[int, list[int]]
    of_stage: dict[int, list[int]]


def run_days(since: datetime) -> RunDays:
    """How long batches took that ended since then, oldest first. One statement."""
    ended = BatchEvent.objects.filter(after=BatchState.COMPLETE, at__gte=since).order_by()
    rows = (
        Batch.objects.filter(
            pk__in=ended.values("batch_id"), state=BatchState.COMPLETE, revision__isnull=False
        )
        .annotate(
            began_at=Min("events__at", filter=Q(events__after=BatchState.RUNNING)),
            ended_at=Max("events__at", filter=Q(events__after=BatchState.COMPLETE)),
        )
        .filter(began_at__isnull=False, ended_at__gte=F("began_at"))
        .order_by("ended_at", "pk")
        .values_list("item_id", "stage_id", "began_at", "ended_at")
    )
    found = RunDays(defaultdict(list), defaultdict(list))
    for item_id, stage_id, began_at, ended_at in rows:
        days = (shop_day(ended_at) - shop_day(began_at)).days
        found.of_item[item_id].append(days)
        found.of_stage[stage_id].append(days)
    return found
