"""What runs took of the pieces at risk, and whether the pieces made and scrapped account for it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, NamedTuple

from django.db.models import OuterRef, Subquery, Sum

from batches.bills.selectors.sheets import SheetLine, sheets_by_id
from batches.runs.models import Entry
from batches.trace.selectors.rows import Unit
from inventory.stock.models import Movement
from inventory.stock.selectors.among import Among
from inventory.stock.selectors.amounts import AmountRow
from inventory.stock.selectors.lineage import AmongTakers, is_standing
from shopfloor.units import Dimension


class UnexplainedRow(NamedTuple):
    """Pieces of an item that entries took and no piece accounts for."""

    item: str
    amount: AmountRow


class RunRow(NamedTuple):
    """What came of a batch's entries that took something at risk.

    Attributes:
        unexplained: By item that is counted in pieces: what the entries took, less what the bill
            needs for their good and scrapped pieces; where it is not none. Below zero where fewer
            were written down.
    """

    batch: str
    stage: str
    item: str
    name: str
    first_at: datetime
    last_at: datetime
    good: AmountRow
    scrapped: AmountRow
    unexplained: list[UnexplainedRow]


class _Run(NamedTuple):
    """An entry, and its batch."""

    id: int
    at: datetime
    good_base: int
    scrapped_base: int
    batch_id: int
    revision_id: int | None
    batch: str
    stage: str
    item: str
    name: str
    dimension: str
    unit: str
    first: int


class _Line(NamedTuple):
    """A line of a bill that takes pieces; what stands in for its item counts as it."""

    item: str
    names: frozenset[str]
    line: SheetLine


def run_rows(lot_ids: Iterable[int]) -> list[RunRow]:
    """The runs that took some lots, by their first entry. Three statements."""
    standing = Entry.objects.filter(is_standing("posting"), batch=OuterRef("batch"))
    first = standing.order_by("pk").values("pk")[:1]
    entries = Entry.objects.filter(AmongTakers("pk", lot_ids)).order_by("pk")
    rows: Iterable[Any] = entries.annotate(first=Subquery(first)).values_list(
        "pk", "posting__at", "good_base", "scrapped_base", "batch_id", "batch__revision_id",
        "batch__code", "batch__stage__code", "batch__item__code", "batch__item__name",
        "batch__item__dimension", "batch__item__display_unit", "first",
    )  # fmt: skip
    batches: dict[int, list[_Run]] = defaultdict(list)
    for row in map(_Run._make, rows):
        batches[row.batch_id].append(row)
    lines = _lines(each[0].revision_id for each in batches.values() if each[0].revision_id)
    taken = _taken(entry.id for its in batches.values() for entry in its)
    found = []
    for its in batches.values():
        times = [entry.at for entry in its]
        unit = Unit(its[0].dimension, its[0].unit)
        found.append(
            RunRow(
                batch=its[0].batch,
                stage=its[0].stage,
                item=its[0].item,
                name=its[0].name,
                first_at=min(times),
                last_at=max(times),
                good=unit.row(sum(entry.good_base for entry in its)),
                scrapped=unit.row(sum(entry.scrapped_base for entry in its)),
                unexplained=_unexplained(
                    its, lines.get(its[0].revision_id or 0, ()), taken, its[0].first
                ),
            )
        )
    return sorted(found, key=lambda row: row.first_at)


def _lines(revision_ids: Iterable[int]) -> dict[int, list[_Line]]:
    """Of each bill; a rework has none. One statement."""
    return {
        number: [
            _Line(
                item.code,
                frozenset({item.code, *(each.item.code for each in line.alternatives)}),
                line,
            )
            for line in sheet.taken
            if (item := line.item).dimension == Dimension.COUNT
        ]
        for number, sheet in sheets_by_id(revision_ids).items()
    }


def _taken(posting_ids: Iterable[int]) -> dict[tuple[int, str], int]:
    """Pieces that entries took, by entry and item. One statement."""
    found: dict[tuple[int, str], int] = defaultdict(int)
    rows = Movement.objects.filter(
        Among("posting_id", posting_ids), qty_base__lt=0, lot__item__dimension=Dimension.COUNT
    )
    by_item = rows.order_by().values_list("posting_id", "lot__item__code")
    for entry, item, qty in by_item.annotate(qty=Sum("qty_base")):
        found[entry, item] -= qty
    return found


def _unexplained(
    entries: Iterable[_Run],
    lines: Iterable[_Line],
    taken: Mapping[tuple[int, str], int],
    first_entry: int,
) -> list[UnexplainedRow]:
    """By item of the bill."""
    found: dict[str, int] = defaultdict(int)
    for item, names, line in lines:
        for entry in entries:
            need = line.need_base(
                entry.good_base + entry.scrapped_base, is_first_entry=entry.id == first_entry
            )
            found[item] += sum(taken.get((entry.id, name), 0) for name in names) - need
    unit = Unit(Dimension.COUNT, "each")
    return [UnexplainedRow(item, unit.row(qty)) for item, qty in sorted(found.items()) if qty]
