"""What a bench needs to record an entry: the batch, scrap reasons, equipment, latest entries."""

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
from shopfloor.errors import NotFoundError
from shopfloor.units import Dimension

LATEST: Final = 4
"""Entries of the batch that are shown."""
LOOKED_BACK: Final = 200
"""Entries of the stage that tell which equipment is used there."""


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
        equipment=_equipment(batch),
        entries=entry_rows(entries().filter(batch=batch).order_by("-pk")[:LATEST]),
        now=now,
    )


def _equipment(batch: Batch) -> list[EquipmentRow]:
    """All equipment in use, that of the stage first. Two statements."""
    latest = Entry.objects.filter(batch__stage=batch.stage_id).order_by("-pk")[:LOOKED_BACK]
    used = list(
        EntryFactor.objects.filter(entry__in=latest.values("pk"), equipment__isnull=False)
        .order_by("-entry")
        .values_list("equipment", "entry", "entry__batch__item")
    )
    of_stage = {equipment_id for equipment_id, _, _ in used}
    last = next((entry for _, entry, item_id in used if item_id == batch.item_id), None)
    was_last = {equipment_id for equipment_id, entry, _ in used if entry == last}
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
