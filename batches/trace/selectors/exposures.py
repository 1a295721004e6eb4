"""What the pieces of a period went through: results by entry and station, and every exposure.

Each entry of a stage tests its pieces: good, or scrapped for the reason that is asked about. Pieces
scrapped for another reason tell nothing and are left out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from django.db.models import QuerySet

from batches.bills.models import Stage
from batches.runs.models import Entry, EntryFactor, EntryTally, ScrapReason
from batches.trace.rules.bands import AGE, Exposure, band_names
from batches.trace.rules.flows import flows_of
from inventory.catalog.models import Equipment
from inventory.stock.models import Lot, Movement
from inventory.stock.selectors.among import Among
from inventory.stock.selectors.lineage import Direction, flow_sides, is_standing, reached_ids
from shopfloor.days import day_end, day_start, shop_zone

if TYPE_CHECKING:
    from scipy.sparse import csr_array

ENTRIES_MIN: Final = 2
"""An exposure of a single entry cannot be told from all else that entry went through."""
DAY_SECONDS: Final = 86_400
OLDEST_SHARE: Final = 0.95
"""An age past that of so many entries counts as the oldest: one forgotten can is no scale."""


class EntryRow(NamedTuple):
    """An entry of the period."""

    id: int
    at: datetime
    done_by: str
    item: str


@dataclass(slots=True)
class Cell:
    """Pieces of an entry that went through the same: at a station, or wherever in the entry.

    Attributes:
        entry: Place of the entry among the entries.
        equipment_id: The station or cavity; None where it is not told.
    """

    entry: int
    equipment_id: int | None
    tested: int = 0
    failed: int = 0


@dataclass(slots=True)
class Period:
    """What was found.

    Attributes:
        entries: By time.
        cells: Those with pieces tested.
        exposures: As many as rows of `at_work`; no two the same.
        at_work: (exposures, cells) from 0 to 1.
        is_spread: Whether good pieces were taken to be spread evenly over the stations.
    """

    entries: list[EntryRow]
    cells: list[Cell]
    exposures: list[Exposure]
    at_work: csr_array
    is_spread: bool


def stages_of(reason: ScrapReason, first_on: date, last_on: date) -> list[str]:
    """Codes of the stages that a reason is given at: its own, else where it was in those days.

    One statement.
    """
    if reason.stage_id is not None:
        stages = Stage.objects.filter(pk=reason.stage_id)
    else:
        given = _standing(first_on, last_on).filter(tallies__scrap_reason=reason)
        stages = Stage.objects.filter(pk__in=given.order_by().values("batch__stage"))
    return list(stages.values_list("code", flat=True))


def period(reason: ScrapReason, stage: str, first_on: date, last_on: date) -> Period | None:
    """Results and exposures of a stage's entries; None where nothing was tested.

    Eight statements, whatever their number. Memory for entries x what went into each.
    """
    entries = _entries(stage, first_on, last_on)
    equipment = {each.pk: each for each in Equipment.objects.all()}
    cells, is_spread = _cells(reason, entries, equipment)
    if not cells:
        return None
    columns = _Columns(len(entries))
    factors = list(
        EntryFactor.objects.filter(Among("entry", [entry.id for entry in entries])).values_list(
            "entry_id", "equipment__code", "equipment__kind", "name", "value"
        )
    )
    _add_circumstances(columns, entries, factors)
    _add_lots(columns, entries)
    exposures, at_work = _by_cell(columns, cells, equipment)
    return Period(entries, cells, exposures, at_work, is_spread)


def _standing(first_on: date, last_on: date) -> QuerySet[Entry]:
    return Entry.objects.filter(
        is_standing("posting"),
        posting__at__gte=day_start(first_on),
        posting__at__lte=day_end(last_on),
    )


def _entries(stage: str, first_on: date, last_on: date) -> list[EntryRow]:
    """Entries of a stage that stand, by time."""
    rows = (
        _standing(first_on, last_on)
        .filter(batch__stage__code=stage)
        .order_by("posting__at", "pk")
        .values_list("pk", "posting__at", "done_by__username", "batch__item__code")
    )
    return [EntryRow(*row) for row in rows]


Counts = dict[int | None, int]
"""Pieces by station or cavity; None: not told."""


def _cells(
    reason: ScrapReason, entries: Sequence[EntryRow], equipment: Mapping[int, Equipment]
) -> tuple[list[Cell], bool]:
    """Pieces by entry and station, and whether some had to be spread."""
    place = {entry.id: number for number, entry in enumerate(entries)}
    good: list[Counts] = [defaultdict(int) for _ in entries]
    failed: list[Counts] = [defaultdict(int) for _ in entries]
    tallies = EntryTally.objects.filter(Among("entry", place)).values_list(
        "entry_id", "equipment_id", "scrap_reason_id", "qty_base"
    )
    for entry_id, equipment_id, reason_id, qty in tallies:
        # A whole wheel or press is the entry's; told of failures alone it would look at fault.
        used = equipment.get(equipment_id)
        part_id = None if used is None or used.parent_id is None else used.pk
        if reason_id is None:
            good[place[entry_id]][part_id] += qty
        elif reason_id == reason.pk:
            failed[place[entry_id]][part_id] += qty
    is_spread = False
    cells: list[Cell] = []
    for number, (ones, bad) in enumerate(zip(good, failed, strict=True)):
        if ones.get(None) and any(part is not None for part in bad):
            ones, bad, is_spread_here = _spread(ones, bad, equipment)  # noqa: PLW2901
            is_spread |= is_spread_here
        cells += [
            Cell(number, part, ones.get(part, 0) + bad.get(part, 0), bad.get(part, 0))
            for part in sorted({*ones, *bad}, key=lambda each: each or 0)
        ]
    return [cell for cell in cells if cell.tested], is_spread


def _spread(
    good: Counts, failed: Counts, equipment: Mapping[int, Equipment]
) -> tuple[Counts, Counts, bool]:
    """Good pieces that are not told by station, where failures are.

    They are taken to be spread evenly over the stations of that wheel, for it turns through all of
    them. Of several wheels nobody can say, and no station is told then.
    """
    wholes = {equipment[part].parent_id for part in failed if part is not None}
    if len(wholes) > 1:
        return {None: sum(good.values())}, {None: sum(failed.values())}, False
    parts = {
        key
        for key, each in equipment.items()
        if each.parent_id in wholes and (each.is_active or key in failed)
    }
    share, rest = divmod(good[None], len(parts))
    found: Counts = {part: qty for part, qty in good.items() if part is not None}
    for rank, part in enumerate(sorted(parts)):
        found[part] = found.get(part, 0) + share + (rank < rest)
    return found, failed, True


@dataclass(slots=True)
class _Columns:
    """Exposures of entries: each a value from 0 to 1 an entry."""

    entries: int
    names: list[Exposure] = field(default_factory=list)
    places: list[list[int]] = field(default_factory=list)
    shares: list[list[float]] = field(default_factory=list)

    def add(self, exposure: Exposure, shares: Mapping[int, float]) -> None:
        """Leave out what one entry alone, or every entry alike, went through."""
        at_work = {entry: share for entry, share in shares.items() if share > 0}
        is_everywhere = len(at_work) == self.entries and len(set(at_work.values())) == 1
        if len(at_work) < ENTRIES_MIN or is_everywhere:
            return
        self.names.append(exposure)
        self.places.append(list(at_work))
        self.shares.append(list(at_work.values()))


def _add_circumstances(
    columns: _Columns, entries: Sequence[EntryRow], factors: Iterable[tuple[Any, ...]]
) -> None:
    """Who, when, what was made, on what equipment, and what was noted."""
    place = {entry.id: number for number, entry in enumerate(entries)}
    levels: dict[Exposure, dict[int, float]] = defaultdict(dict)
    named: dict[str, dict[int, str]] = defaultdict(dict)
    for number, entry in enumerate(entries):
        local = entry.at.astimezone(shop_zone())
        levels[Exposure("person", entry.done_by)][number] = 1
        levels[Exposure("item made", entry.item)][number] = 1
        levels[Exposure("month", f"{local:%Y-%m}")][number] = 1
        half = "before noon" if local.hour < 12 else "after noon"  # noqa: PLR2004
        levels[Exposure("time of day", half)][number] = 1
    for entry_id, code, kind, name, value in factors:
        if code is not None:
            levels[Exposure(kind, code)][place[entry_id]] = 1
        else:
            named[name][place[entry_id]] = value
    for name, values in named.items():
        for number, band in band_names(values).items():
            levels[Exposure(name, band)][number] = 1
    for exposure, shares in levels.items():
        columns.add(exposure, shares)


class Begun(NamedTuple):
    """From when on something grows old."""

    event: str
    at: datetime


class LotRow(NamedTuple):
    """A lot upstream."""

    code: str
    item: str
    supplier: str | None
    born_at: datetime
    opened_at: datetime | None
    expires_at: datetime | None

    @property
    def begun(self) -> Begun | None:
        """When it was opened, or mixed here; None for anything else."""
        if self.opened_at is not None:
            return Begun("opening", self.opened_at)
        if self.expires_at is not None and self.supplier is None:
            return Begun("it was made", self.born_at)
        return None


def _add_lots(columns: _Columns, entries: Sequence[EntryRow]) -> None:
    """Every lot upstream, its supplier, and how old what was open or mixed had become."""
    suppliers: dict[str, dict[int, float]] = defaultdict(dict)
    ages: dict[Exposure, dict[int, float]] = defaultdict(dict)
    for lot, numbers in _lots_upstream(entries):
        columns.add(Exposure("lot", lot.code), dict.fromkeys(numbers, 1.0))
        if lot.supplier is not None:
            suppliers[f"{lot.supplier} of {lot.item}"].update(dict.fromkeys(numbers, 1.0))
        if begun := lot.begun:
            days_of = ages[Exposure(AGE, f"of {lot.item} since {begun.event}")]
            for number in numbers:
                days = (entries[number].at - begun.at).total_seconds() / DAY_SECONDS
                days_of[number] = max(days, days_of.get(number, 0.0))
    for name, shares in suppliers.items():
        columns.add(Exposure("supplier", name), shares)
    for exposure, days_of in ages.items():
        columns.add(exposure, _shares_of_age(days_of))


def _shares_of_age(days_of: Mapping[int, float]) -> dict[int, float]:
    """Ages from 0, fresh, to 1, as old as it gets; none where it never grows old."""
    days = sorted(days_of.values())
    most = days[int(OLDEST_SHARE * (len(days) - 1))] if days else 0.0
    return {key: min(1.0, each / most) for key, each in days_of.items()} if most > 0 else {}


def _lots_upstream(entries: Sequence[EntryRow]) -> Iterator[tuple[LotRow, list[int]]]:
    """Each lot that went in, directly or on the way, and the places of its entries.

    Four statements.
    """
    place = {entry.id: number for number, entry in enumerate(entries)}
    taken: dict[int, set[int]] = defaultdict(set)
    for posting_id, lot_id in Movement.objects.filter(
        Among("posting", place), qty_base__lt=0
    ).values_list("posting_id", "lot_id"):
        taken[place[posting_id]].add(lot_id)
    ids = reached_ids({lot_id for lots in taken.values() for lot_id in lots}, Direction.UPSTREAM)
    parents: dict[int, set[int]] = defaultdict(set)
    for flow in flows_of(flow_sides(ids, Direction.UPSTREAM)):
        for made in flow.made:
            parents[made].update(lot for lot in flow.taken if lot in ids)
    numbers: dict[int, list[int]] = defaultdict(list)
    for number in range(len(entries)):
        for lot_id in _all_upstream(taken[number], parents):
            numbers[lot_id].append(number)
    columns = ("code", "item__code", "supplier__code", "born_at", "opened_at", "expires_at")
    for lot_id, *row in Lot.objects.filter(Among("pk", ids)).values_list("pk", *columns):
        yield LotRow(*row), numbers[lot_id]


def _all_upstream(lots: Iterable[int], parents: Mapping[int, set[int]]) -> Iterator[int]:
    seen: set[int] = set()
    ahead = list(lots)
    while ahead:
        lot_id = ahead.pop()
        if lot_id not in seen:
            seen.add(lot_id)
            yield lot_id
            ahead += parents.get(lot_id, ())


def _by_cell(
    columns: _Columns, cells: Sequence[Cell], equipment: Mapping[int, Equipment]
) -> tuple[list[Exposure], csr_array]:
    """Exposures of entries and of stations, a value a cell; the same ones under one name."""
    import numpy as np  # noqa: PLC0415 - heavy, and not needed to start
    from scipy.sparse import csr_array, vstack  # noqa: PLC0415 - as above

    entry_of = np.array([cell.entry for cell in cells])
    starts = np.cumsum([0, *map(len, columns.places)])
    of_entry = csr_array(
        (
            np.array([share for shares in columns.shares for share in shares]),
            np.array([place for places in columns.places for place in places], dtype=np.int64),
            starts,
        ),
        shape=(len(columns.names), columns.entries),
    )
    stations: dict[int, list[int]] = defaultdict(list)
    for number, cell in enumerate(cells):
        if cell.equipment_id is not None:
            stations[cell.equipment_id].append(number)
    parts = [of_entry[:, entry_of]]
    names = list(columns.names)
    if stations:
        ends = np.cumsum([0, *map(len, stations.values())])
        numbers = np.array([number for found in stations.values() for number in found])
        parts.append(
            csr_array((np.ones(len(numbers)), numbers, ends), shape=(len(stations), len(cells)))
        )
        names += [Exposure(equipment[key].kind, equipment[key].code) for key in stations]
    return _distinct(names, csr_array(vstack(parts, format="csr")))


def _distinct(names: Sequence[Exposure], at_work: csr_array) -> tuple[list[Exposure], csr_array]:
    """One row for exposures that always went together, and none for what no tested piece had."""
    at_work.sort_indices()
    kept: dict[tuple[bytes, bytes], int] = {}
    found: list[Exposure] = []
    rows: list[int] = []
    for row, name in enumerate(names):
        span = slice(at_work.indptr[row], at_work.indptr[row + 1])
        key = (at_work.indices[span].tobytes(), at_work.data[span].tobytes())
        if not key[0]:
            continue
        if key in kept:
            found[kept[key]] = found[kept[key]].with_another(name)
        else:
            kept[key] = len(found)
            found.append(name)
            rows.append(row)
    return found, at_work[rows]
