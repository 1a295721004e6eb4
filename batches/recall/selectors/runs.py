"""What runs took of the pieces at risk, and whether the pieces made and scrapped account for it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, NamedTuple

from django.db.models import Min

from batches.bills.selectors.sheets import BillSheet, sheets_by_id
from batches.runs.models import Entry
from batches.trace.selectors.rows import Unit
from batches.trace.selectors.walking import Event
from inventory.stock.models import Movement
from inventory.stock.selectors.among import Among
from inventory.stock.selectors.amounts import AmountRow
from inventory.stock.selectors.lineage import is_standing
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
    """An entry."""

    id: int
    batch_id: int
    revision_id: int | None
    good_base: int
    scrapped_base: int


def run_rows(events: Mapping[int, Event]) -> list[RunRow]:
    """The runs, by their first entry. Four statements."""
    runs = {event.id: event for event in events.values() if event.run is not None}
    entries: dict[int, list[_Run]] = defaultdict(list)
    rows: Iterable[Any] = Entry.objects.filter(Among("pk", runs)).order_by("pk").values_list(
        "pk", "batch_id", "batch__revision_id", "good_base", "scrapped_base"
    )  # fmt: skip
    for row in map(_Run._make, rows):
        entries[row.batch_id].append(row)
    sheets = sheets_by_id(each[0].revision_id for each in entries.values() if each[0].revision_id)
    firsts = _first_entries(entries)
    taken = _taken(runs)
    found = []
    for batch_id, its in entries.items():
        run = runs[its[0].id].run
        assert run is not None
        times = [runs[each.id].at for each in its]
        found.append(
            RunRow(
                batch=run.batch,
                stage=run.stage,
                item=run.item,
                name=run.item_name,
                first_at=min(times),
                last_at=max(times),
                good=run.unit.row(sum(each.good_base for each in its)),
                scrapped=run.unit.row(sum(each.scrapped_base for each in its)),
                unexplained=_unexplained(
                    its, sheets.get(its[0].revision_id or 0), taken, firsts[batch_id]
                ),
            )
        )
    return sorted(found, key=lambda row: row.first_at)


def _first_entries(batch_ids: Iterable[int]) -> dict[int, int]:
    """The first standing entry of each batch. One statement."""
    standing = Entry.objects.filter(Among("batch_id", batch_ids), is_standing("posting"))
    return dict(standing.values_list("batch_id").annotate(first=Min("pk")).order_by())


def _taken(posting_ids: Iterable[int]) -> dict[int, dict[str, int]]:
    """Pieces that entries took, by entry and item. One statement."""
    found: dict[int, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    rows = Movement.objects.filter(
        Among("posting_id", posting_ids), qty_base__lt=0, lot__item__dimension=Dimension.COUNT
    )
    for entry, item, qty in rows.order_by().values_list(
        "posting_id", "lot__item__code", "qty_base"
    ):
        found[entry][item] -= qty
    return found


def _unexplained(
    entries: Iterable[_Run],
    sheet: BillSheet | None,
    taken: Mapping[int, Mapping[str, int]],
    first_entry: int,
) -> list[UnexplainedRow]:
    """By item of the bill; what stands in for it counts as it. None without a bill: rework."""
    if sheet is None:
        return []
    found: dict[str, int] = {}
    for line in sheet.taken:
        if line.item.dimension != Dimension.COUNT:
            continue
        names = {line.item.code, *(each.item.code for each in line.alternatives)}
        for entry in entries:
            need = line.need_base(
                entry.good_base + entry.scrapped_base, is_first_entry=entry.id == first_entry
            )
            took = sum(taken[entry.id].get(name, 0) for name in names)
            found[line.item.code] = found.get(line.item.code, 0) + took - need
    unit = Unit(Dimension.COUNT, "each")
    return [UnexplainedRow(item, unit.row(qty)) for item, qty in sorted(found.items()) if qty]
