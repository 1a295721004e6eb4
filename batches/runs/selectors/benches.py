"""What a bench needs to record an entry: the batch, scrap reasons, equipment, circumstances."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Final, NamedTuple

from django.db.models import Q

from batches.runs.models import Batch, Entry, EntryFactor, ScrapReason
from batches.runs.selectors.batches import (
    BatchRow,
    EntryRow,
    batch_row,
    batches,
    entries,
    entry_rows,
)
from inventory.catalog.models import Equipment
from inventory.stock.selectors.amounts import AmountRow, amount_row
from shopfloor.days import shop_day
from shopfloor.errors import NotFoundError
from shopfloor.units import Dimension

LATEST: Final = 4
"""Entries of the batch that are shown."""
LOOKED_BACK: Final = 200
"""Entries of the stage that tell which equipment is used there, and what is noted."""
VALUES_MOST: Final = 5
"""Values of a circumstance that are offered."""
OWN_NAMES: Final = frozenset({"weighed"})
"""Circumstances that the program notes by itself."""


class ReasonRow(NamedTuple):
    """A scrap reason that is possible at the stage."""

    code: str
    name: str


class PartRow(NamedTuple):
    """A cavity of a mold, a station of a wheel."""

    code: str
    number: int


class EquipmentRow(NamedTuple):
    """Equipment in use.

    Attributes:
        is_of_stage: It was used at the stage lately.
        was_last: It was used for the item's last entry at the stage.
    """

    code: str
    name: str
    kind: str
    is_of_stage: bool
    was_last: bool
    parts: list[PartRow]


class BenchFactorRow(NamedTuple):
    """A circumstance that was noted at the stage lately.

    Attributes:
        values: Those noted last, the newest first.
        today: What was noted last today; yesterday it may have been otherwise.
    """

    name: str
    values: list[str]
    today: str | None


class _Used(NamedTuple):
    """Equipment or a circumstance of an entry of the stage."""

    entry: int
    item: int
    at: datetime
    equipment: int | None
    name: str
    value: str


class BenchSheet(NamedTuple):
    """What the bench needs for a batch.

    Attributes:
        is_pieces: Whether it makes pieces; else a mixture.
        unit: The unit amounts of it are recorded in.
        left: What is planned and not made.
        scrap_reasons: Those of the stage, then those of every stage.
        entries: The batch's latest entries, newest first.
    """

    batch: BatchRow
    stage_name: str
    is_pieces: bool
    unit: str
    left: AmountRow
    scrap_reasons: list[ReasonRow]
    equipment: list[EquipmentRow]
    factors: list[BenchFactorRow]
    entries: list[EntryRow]
    now: datetime


def bench_sheet(code: str, *, now: datetime) -> BenchSheet:
    """What the bench needs for a batch. Eight statements.

    Raises:
        NotFoundError: no such batch.
    """
    batch = batches().filter(code=code).first()
    if batch is None:
        raise NotFoundError("No batch has this code. Check it, or scan the traveler.", batch=code)
    item = batch.item
    is_pieces = item.dimension == Dimension.COUNT
    unit = "each" if is_pieces else item.display_unit
    left_base = max(batch.planned_base - batch.good_base, 0)  # type: ignore[attr-defined]  # annotated
    reasons = ScrapReason.objects.filter(Q(stage=batch.stage) | Q(stage=None), is_active=True)
    used = _used(batch)
    return BenchSheet(
        batch=batch_row(batch),
        stage_name=batch.stage.name,
        is_pieces=is_pieces,
        unit=unit,
        left=amount_row(left_base, dimension=item.dimension, unit=unit),
        scrap_reasons=[
            ReasonRow(reason.code, reason.name)
            for reason in sorted(reasons, key=lambda reason: (reason.stage_id is None, reason.code))
        ],
        equipment=_equipment(batch, used),
        factors=_factors(used, now),
        entries=entry_rows(entries().filter(batch=batch).order_by("-pk")[:LATEST]),
        now=now,
    )


def _used(batch: Batch) -> list[_Used]:
    """Of the latest entries of the stage, the newest first. One statement."""
    latest = Entry.objects.filter(batch__stage=batch.stage_id).order_by("-pk")[:LOOKED_BACK]
    rows = EntryFactor.objects.filter(entry__in=latest.values("pk")).order_by("-entry", "id")
    columns = ("entry", "entry__batch__item", "entry__posting__at", "equipment", "name", "value")
    return [_Used(*row) for row in rows.values_list(*columns)]


def _factors(used: Iterable[_Used], now: datetime) -> list[BenchFactorRow]:
    named = [row for row in used if row.value and row.name not in OWN_NAMES]
    values: dict[str, dict[str, None]] = defaultdict(dict)
    for row in named:
        values[row.name].setdefault(row.value)
    last = next((row.entry for row in named if shop_day(row.at) == shop_day(now)), None)
    today = {row.name: row.value for row in named if row.entry == last}
    return [
        BenchFactorRow(name, list(found)[:VALUES_MOST], today.get(name))
        for name, found in sorted(values.items())
    ]


def _equipment(batch: Batch, every_used: Iterable[_Used]) -> list[EquipmentRow]:
    """All equipment in use, that of the stage first. One statement."""
    used = [row for row in every_used if row.equipment is not None]
    of_stage = {row.equipment for row in used}
    last = next((row.entry for row in used if row.item == batch.item_id), None)
    was_last = {row.equipment for row in used if row.entry == last}
    every = list(Equipment.objects.filter(is_active=True))
    parts = _parts(every)
    rows = [
        EquipmentRow(
            code=each.code,
            name=each.name,
            kind=each.kind,
            is_of_stage=each.pk in of_stage,
            was_last=each.pk in was_last,
            parts=parts.get(each.pk, []),
        )
        for each in every
        if each.parent_id is None
    ]
    return sorted(rows, key=lambda row: (not row.was_last, not row.is_of_stage, row.code))


def _parts(every: Iterable[Equipment]) -> Mapping[int, list[PartRow]]:
    found: dict[int, list[PartRow]] = defaultdict(list)
    for each in every:
        if each.parent_id is not None and each.number is not None:
            found[each.parent_id].append(PartRow(each.code, each.number))
    for rows in found.values():
        rows.sort(key=lambda row: row.number)
    return found
