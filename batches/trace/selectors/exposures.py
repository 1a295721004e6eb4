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


def period(reason: ScrapReason, first_on: date, last_on: date) -> Period | None:
    """Results and exposures of a reason's entries; None where nothing was tested.

    Eight statements, whatever their number. Memory for entries x what went into each.
    """
    entries = _entries(reason, first_on, last_on)
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


def _entries(reason: ScrapReason, first_on: date, last_on: date) -> list[EntryRow]:
    """Entries that stand, of the reason's stage or of every stage where it was ever given."""
    entries = Entry.objects.filter(
        is_standing("posting"),
        posting__at__gte=day_start(first_on),
        posting__at__lte=day_end(last_on),
    )
    if reason.stage_id is not None:
        entries = entries.filter(batch__stage=reason.stage_id)
    else:
        given = Entry.objects.filter(tallies__scrap_reason=reason).order_by()
        entries = entries.filter(batch__stage__in=given.values("batch__stage").distinct())
    rows = entries.order_by("posting__at", "pk").values_list(
        "pk", "posting__at", "done_by__username", "batch__item__code"
    )
    return [EntryRow(*row) for row in rows]


def _cells(
    reason: ScrapReason, entries: Sequence[EntryRow], equipment: Mapping[int, Equipment]
) -> tuple[list[Cell], bool]:
    """Pieces by entry and station, and whether some had to be spread.

    Failures told by station beside good pieces that are not are taken to be of pieces that were
    spread evenly over the stations of that wheel, for it turns through all of them.
    """
    place = {entry.id: number for number, entry in enumerate(entries)}
    good: dict[int, dict[int | None, int]] = defaultdict(lambda: defaultdict(int))
    failed: dict[int, dict[int | None, int]] = defaultdict(lambda: defaultdict(int))
    tallies = EntryTally.objects.filter(Among("entry", place)).values_list(
        "entry_id", "equipment_id", "scrap_reason_id", "qty_base"
    )
    for entry_id, equipment_id, reason_id, qty in tallies:
        if reason_id is None:
            good[place[entry_id]][equipment_id] += qty
        elif reason_id == reason.pk:
            failed[place[entry_id]][equipment_id] += qty
    is_spread = False
    cells: list[Cell] = []
    for number in range(len(entries)):
        ones, bad = good[number], failed[number]
        if any(key not in ones for key in bad) and any(bad):
            ones, spread = _spread(ones, bad, equipment)
            is_spread |= spread
        cells += [
            Cell(number, key, ones.get(key, 0) + bad.get(key, 0), bad.get(key, 0))
            for key in sorted({*ones, *bad}, key=lambda each: each or 0)
            if ones.get(key, 0) + bad.get(key, 0) > 0
        ]
    return cells, is_spread


def _spread(
    good: Mapping[int | None, int], bad: dict[int | None, int], equipment: Mapping[int, Equipment]
) -> tuple[dict[int | None, int], bool]:
    """The good ones over the parts of the one wheel or mold that failures name, else all in one."""
    parents = {equipment[key].parent_id for key in bad if key is not None}
    told = [key for key in good if key is not None]
    (parent,) = parents if len(parents) == 1 else (None,)
    if parent is None or any(key != parent for key in told):
        total, failures = sum(good.values()), sum(bad.values())
        bad.clear()
        bad[None] = failures
        return {None: total}, False
    unplaced = bad.pop(None, 0) + bad.pop(parent, 0)
    parts = [key for key, each in equipment.items() if each.parent_id == parent and each.is_active]
    parts = sorted({*parts, *(key for key in bad if key is not None)})
    share, rest = divmod(sum(good.values()), len(parts))
    found: dict[int | None, int] = {part: share + (rank < rest) for rank, part in enumerate(parts)}
    if unplaced:
        bad[None] = unplaced
    return found, True


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


class LotRow(NamedTuple):
    """A lot upstream."""

    code: str
    item: str
    supplier: str | None
    born_at: datetime
    opened_at: datetime | None
    expires_at: datetime | None

    def age(self, at: datetime) -> tuple[Exposure, float] | None:
        """Of what was opened or mixed here: days since then; None for anything else."""
        if self.opened_at is not None:
            begun, since = self.opened_at, "opening"
        elif self.expires_at is not None and self.supplier is None:
            begun, since = self.born_at, "it was made"
        else:
            return None
        days = (at - begun).total_seconds() / DAY_SECONDS
        return (Exposure(AGE, f"of {self.item} since {since}"), days) if days >= 0 else None


def _add_lots(columns: _Columns, entries: Sequence[EntryRow]) -> None:
    """Every lot upstream, its supplier, and how old what was open or mixed had become."""
    through: dict[Exposure, dict[int, float]] = defaultdict(dict)
    ages: dict[Exposure, dict[int, float]] = defaultdict(dict)
    for number, lot in _lots_upstream(entries):
        through[Exposure("lot", lot.code)][number] = 1
        if lot.supplier is not None:
            through[Exposure("supplier", f"{lot.supplier} of {lot.item}")][number] = 1
        if age := lot.age(entries[number].at):
            exposure, days = age
            ages[exposure][number] = max(days, ages[exposure].get(number, 0.0))
    for exposure, shares in through.items():
        columns.add(exposure, shares)
    for exposure, days_of in ages.items():
        most = sorted(days_of.values())[int(OLDEST_SHARE * (len(days_of) - 1))]
        if most > 0:
            columns.add(exposure, {key: min(1.0, value / most) for key, value in days_of.items()})


def _lots_upstream(entries: Sequence[EntryRow]) -> Iterator[tuple[int, LotRow]]:
    """Each entry's place with each lot that went into it, directly or not. Four statements."""
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
    columns = ("code", "item__code", "supplier__code", "born_at", "opened_at", "expires_at")
    lots = {
        lot_id: LotRow(*row)
        for lot_id, *row in Lot.objects.filter(Among("pk", ids)).values_list("pk", *columns)
    }
    for number in range(len(entries)):
        for lot_id in _all_upstream(taken[number], parents):
            yield number, lots[lot_id]


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
