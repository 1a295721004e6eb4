"""What tests found of a stage's pieces, at the bench, by checks and in use: by entry and station.

At the bench every piece of an entry is tested: good, or scrapped for the reason that is asked
about; pieces scrapped for another tell nothing and are left out. A check tests some of the good
ones once more, by a test of its own kind; customers test those that left.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final, NamedTuple

from batches.quality.selectors.checks import BatchTestedRow, TestedRow, pieces_tested
from batches.runs.models import EntryTally, ScrapReason
from batches.trace.rules.customers import Count
from inventory.catalog.models import Equipment
from inventory.stock.selectors.among import Among

SCRAP: Final = "scrap"
CHECKS: Final = "checks"
COMPLAINTS: Final = "complaints"
SOURCES: Final = (SCRAP, CHECKS, COMPLAINTS)
Mix = dict[int, int]
"""Good pieces by place of the entry that made them."""


class EntryRow(NamedTuple):
    """An entry of the period."""

    id: int
    at: datetime
    done_by: str
    item: str
    batch_id: int


@dataclass(slots=True)
class Cell:
    """Pieces of an entry that went through the same: at a station, or wherever in the entry.

    Attributes:
        entry: Place of the entry among the entries; beyond them that of a mix among the mixes.
        test: Place of the kind of test among the kinds.
        equipment_id: The station or cavity; None where it is not told.
        tested: Pieces; of customers not whole ones, as of `rules.customers`.
        failed: Of these.
    """

    entry: int
    test: int
    equipment_id: int | None
    tested: float = 0
    failed: float = 0


@dataclass(frozen=True, slots=True)
class KindRow:
    """A kind of test, and what it found of all entries.

    Attributes:
        source: One of `SOURCES`.
        definition: Code of the check; else empty.
    """

    source: str
    definition: str
    tested: int
    failed: int

    @property
    def words(self) -> str:
        """As people say it."""
        if self.definition:
            return f"check {self.definition}"
        return "customers" if self.source == COMPLAINTS else "the bench"


class Found(NamedTuple):
    """What was found.

    Attributes:
        cells: Those with pieces tested.
        kinds: Of test, the bench first, customers last.
        is_spread: Whether good pieces were taken to be spread evenly over the stations.
        mixes: What several entries of a batch had made when a check tested some of it.
        untold: Pieces tested by checks, or complained of, of which nobody can say what they were.
    """

    cells: list[Cell]
    kinds: list[KindRow]
    is_spread: bool
    mixes: list[Mix]
    untold: int


class _Row(NamedTuple):
    entry_id: int
    equipment_id: int | None
    passed: float
    failed: float


Counts = dict[int | None, float]
"""Pieces by station or cavity; None: not told."""


@dataclass(slots=True)
class _OfEntry:
    passed: Counts = field(default_factory=lambda: defaultdict(int))
    failed: Counts = field(default_factory=lambda: defaultdict(int))


def results_of(
    reason: ScrapReason,
    entries: Sequence[EntryRow],
    equipment: Mapping[int, Equipment],
    *,
    sources: Iterable[str] = SOURCES,
    customers: Mapping[int, Count] | None = None,
) -> Found:
    """What tests for a defect found of these entries. Two statements.

    Args:
        reason: The defect.
        entries: Of a stage.
        equipment: All there is, by id.
        sources: Of `SOURCES`.
        customers: What they found, by entry.

    Kinds of test that found nothing, where another found something, are left out: they cannot see
    the defect, or there was none to see.
    """
    place = {entry.id: number for number, entry in enumerate(entries)}
    tallies: list[tuple[int, int | None, int | None, int]] = list(
        EntryTally.objects.filter(Among("entry", place)).values_list(
            "entry_id", "equipment_id", "scrap_reason_id", "qty_base"
        )
    )
    made: dict[int, int] = defaultdict(int)
    for entry_id, _, reason_id, qty in tallies:
        made[entry_id] += qty if reason_id is None else 0
    rows: dict[tuple[int, str], list[_Row]] = {}
    if SCRAP in sources:
        rows[SOURCES.index(SCRAP), ""] = [
            _Row(entry_id, equipment_id, 0 if reason_id else qty, qty if reason_id else 0)
            for entry_id, equipment_id, reason_id, qty in tallies
            if reason_id in {None, reason.pk}
        ]
    mixed = _Mixed([], [], 0)
    if CHECKS in sources:
        batch_ids = {entry.batch_id for entry in entries}
        own, of_batches = pieces_tested(list(place), batch_ids, defect=reason.code)
        mixed = _of_batches(own, of_batches, entries, made)
        for number, mix in enumerate(mixed.mixes):
            place[_mix_id(number)] = len(entries) + number
            made[_mix_id(number)] = sum(mix.values())
        for row in _each_piece_once([*own, *mixed.rows], made):
            rows.setdefault((SOURCES.index(CHECKS), row.definition), []).append(
                _Row(row.entry_id, row.equipment_id, row.tested - row.failed, row.failed)
            )
    rows[SOURCES.index(COMPLAINTS), ""] = [
        _Row(entry_id, None, count.tested - count.failed, count.failed)
        for entry_id, count in (customers or {}).items()
    ]
    has_failures = any(row.failed for found in rows.values() for row in found)
    cells: list[Cell] = []
    kinds: list[KindRow] = []
    is_spread = False
    for (source, definition), found in sorted(rows.items()):
        mine, is_spread_here = _cells(len(kinds), found, place, equipment)
        failed = sum(cell.failed for cell in mine)
        if not mine or (has_failures and not failed):
            continue
        cells += mine
        is_spread |= is_spread_here
        tested = sum(cell.tested for cell in mine)
        kinds.append(KindRow(SOURCES[source], definition, round(tested), round(failed)))
    return Found(cells, kinds, is_spread, mixed.mixes, mixed.untold)


class _Mixed(NamedTuple):
    """What checks of batches tested, each of a mix; `untold` pieces nobody knows what of."""

    rows: list[TestedRow]
    mixes: list[Mix]
    untold: int


def _mix_id(number: int) -> int:
    """What a mix has in place of the id of an entry."""
    return -1 - number


def _of_batches(
    own: Iterable[TestedRow],
    checked: Iterable[BatchTestedRow],
    entries: Sequence[EntryRow],
    made: Mapping[int, int],
) -> _Mixed:
    """Checks of batches that several entries made: of all these together.

    Untold is one of more or less than these entries had made by then, and one beside checks of the
    same kind of single entries of it: it may have tested the same pieces.
    """
    alone = {(row.definition, row.entry_id) for row in own}
    of_batch: dict[int, list[int]] = defaultdict(list)
    for number, entry in enumerate(entries):
        of_batch[entry.batch_id].append(number)
    numbers: dict[tuple[int, ...], int] = {}
    rows, untold = [], 0
    for batch_id, at, lot_pieces, row in checked:
        members = [number for number in of_batch[batch_id] if entries[number].at <= at]
        is_told = lot_pieces == sum(made[entries[number].id] for number in members) and not any(
            (row.definition, entries[number].id) in alone for number in members
        )
        if is_told:
            mix = numbers.setdefault(tuple(members), len(numbers))
            rows.append(row._replace(entry_id=_mix_id(mix)))
        else:
            untold += row.tested
    mixes = [{number: made[entries[number].id] for number in members} for members in numbers]
    return _Mixed(rows, mixes, untold)


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
