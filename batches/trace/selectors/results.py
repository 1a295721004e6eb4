"""What tests found of a stage's pieces, at the bench and by checks: by entry and station.

At the bench every piece of an entry is tested: good, or scrapped for the reason that is asked
about; pieces scrapped for another tell nothing and are left out. A check tests some of the good
ones once more, by a test of its own kind.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from batches.quality.selectors.checks import TestedRow, tested_by_entry
from batches.runs.models import EntryTally, ScrapReason
from inventory.catalog.models import Equipment
from inventory.stock.selectors.among import Among

SCRAP: Final = "scrap"
CHECKS: Final = "checks"
SOURCES: Final = (SCRAP, CHECKS)


@dataclass(slots=True)
class Cell:
    """Pieces of an entry that went through the same: at a station, or wherever in the entry.

    Attributes:
        entry: Place of the entry among the entries.
        test: Place of the kind of test among the kinds.
        equipment_id: The station or cavity; None where it is not told.
    """

    entry: int
    test: int
    equipment_id: int | None
    tested: int = 0
    failed: int = 0


@dataclass(frozen=True, slots=True)
class KindRow:
    """A kind of test, and what it found of all entries.

    Attributes:
        source: One of `SOURCES`.
        definition: Code of the check; empty at the bench.
    """

    source: str
    definition: str
    tested: int
    failed: int

    @property
    def words(self) -> str:
        """As people say it."""
        return f"check {self.definition}" if self.definition else "the bench"


class Found(NamedTuple):
    """What was found.

    Attributes:
        cells: Those with pieces tested.
        kinds: Of test, the bench first.
        is_spread: Whether good pieces were taken to be spread evenly over the stations.
    """

    cells: list[Cell]
    kinds: list[KindRow]
    is_spread: bool


class _Row(NamedTuple):
    entry_id: int
    equipment_id: int | None
    passed: int
    failed: int


Counts = dict[int | None, int]
"""Pieces by station or cavity; None: not told."""


@dataclass(slots=True)
class _OfEntry:
    passed: Counts = field(default_factory=lambda: defaultdict(int))
    failed: Counts = field(default_factory=lambda: defaultdict(int))


def results_of(
    reason: ScrapReason,
    entry_ids: Sequence[int],
    equipment: Mapping[int, Equipment],
    *,
    sources: Iterable[str] = SOURCES,
) -> Found:
    """What tests for a defect found of these entries. Two statements.

    Kinds of test that found nothing, where another found something, are left out: they cannot see
    the defect, or there was none to see.
    """
    place = {entry_id: number for number, entry_id in enumerate(entry_ids)}
    tallies: list[tuple[int, int | None, int | None, int]] = list(
        EntryTally.objects.filter(Among("entry", place)).values_list(
            "entry_id", "equipment_id", "scrap_reason_id", "qty_base"
        )
    )
    made: dict[int, int] = defaultdict(int)
    for entry_id, _, reason_id, qty in tallies:
        made[entry_id] += qty if reason_id is None else 0
    rows: dict[str, list[_Row]] = {}
    if SCRAP in sources:
        rows[""] = [
            _Row(entry_id, equipment_id, 0 if reason_id else qty, qty if reason_id else 0)
            for entry_id, equipment_id, reason_id, qty in tallies
            if reason_id in {None, reason.pk}
        ]
    if CHECKS in sources:
        for row in _each_piece_once(tested_by_entry(entry_ids, defect=reason.code), made):
            rows.setdefault(row.definition, []).append(
                _Row(row.entry_id, row.equipment_id, row.tested - row.failed, row.failed)
            )
    has_failures = any(row.failed for found in rows.values() for row in found)
    cells: list[Cell] = []
    kinds: list[KindRow] = []
    is_spread = False
    for definition, found in sorted(rows.items()):
        mine, is_spread_here = _cells(len(kinds), found, place, equipment)
        failed = sum(cell.failed for cell in mine)
        if not mine or (has_failures and not failed):
            continue
        cells += mine
        is_spread |= is_spread_here
        tested = sum(cell.tested for cell in mine)
        kinds.append(KindRow(CHECKS if definition else SCRAP, definition, tested, failed))
    return Found(cells, kinds, is_spread)


def _each_piece_once(rows: Sequence[TestedRow], made: Mapping[int, int]) -> Iterator[TestedRow]:
    """Without checks that tested pieces anew: of one kind and entry more than there were pieces.

    The largest checks stay.
    """
    checks: dict[tuple[int, str], dict[int, list[TestedRow]]] = {}
    for row in rows:
        of_entry = checks.setdefault((row.entry_id, row.definition), {})
        of_entry.setdefault(row.check_id, []).append(row)
    for (entry_id, _), by_check in checks.items():
        left = made[entry_id]
        sizes = {check_id: sum(row.tested for row in mine) for check_id, mine in by_check.items()}
        for check_id in sorted(by_check, key=lambda each: (-sizes[each], each)):
            if sizes[check_id] <= left:
                left -= sizes[check_id]
                yield from by_check[check_id]


def _cells(
    test: int, rows: Iterable[_Row], place: Mapping[int, int], equipment: Mapping[int, Equipment]
) -> tuple[list[Cell], bool]:
    """Pieces of one kind of test by entry and station, and whether some had to be spread."""
    by_entry: dict[int, _OfEntry] = defaultdict(_OfEntry)
    for row in rows:
        # A whole wheel or press is the entry's; told of failures alone it would look at fault.
        used = None if row.equipment_id is None else equipment.get(row.equipment_id)
        part_id = None if used is None or used.parent_id is None else used.pk
        mine = by_entry[place[row.entry_id]]
        if row.passed:
            mine.passed[part_id] += row.passed
        if row.failed:
            mine.failed[part_id] += row.failed
    is_spread = False
    cells: list[Cell] = []
    for number, mine in sorted(by_entry.items()):
        passed, failed = mine.passed, mine.failed
        if passed.get(None) and any(part is not None for part in failed):
            passed, failed, is_spread_here = _spread(passed, failed, equipment)
            is_spread |= is_spread_here
        for part in sorted({*passed, *failed}, key=lambda each: each or 0):
            bad = failed.get(part, 0)
            cells.append(Cell(number, test, part, passed.get(part, 0) + bad, bad))
    return [cell for cell in cells if cell.tested], is_spread


def _spread(
    passed: Counts, failed: Counts, equipment: Mapping[int, Equipment]
) -> tuple[Counts, Counts, bool]:
    """Good pieces that are not told by station, where failures are.

    They are taken to be spread evenly over the stations of that wheel, for it turns through all of
    them. Of several wheels nobody can say, and no station is told then.
    """
    wholes = {equipment[part].parent_id for part in failed if part is not None}
    if len(wholes) > 1:
        return {None: sum(passed.values())}, {None: sum(failed.values())}, False
    parts = {
        key
        for key, each in equipment.items()
        if each.parent_id in wholes and (each.is_active or key in failed)
    }
    share, rest = divmod(passed[None], len(parts))
    found: Counts = {part: qty for part, qty in passed.items() if part is not None}
    for rank, part in enumerate(sorted(parts)):
        found[part] = found.get(part, 0) + share + (rank < rest)
    return found, failed, True
