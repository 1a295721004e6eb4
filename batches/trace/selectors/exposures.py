"""What the pieces of a period went through: every exposure, beside what tests found of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Final

import numpy as np
from django.db.models import Q, QuerySet
from scipy.sparse import csr_array, hstack, vstack

from batches.bills.models import Stage
from batches.packing.models import Complaint
from batches.quality.selectors.checks import stages_checked_for
from batches.runs.models import Entry, EntryFactor, ScrapReason
from batches.trace.rules.bands import AGE, Exposure, band_names
from batches.trace.rules.causes import HALF
from batches.trace.rules.evidence import Floats, Results
from batches.trace.selectors.customers import OneComplaint, found_by_customers
from batches.trace.selectors.lots_of_entries import Places, lots_of_entries
from batches.trace.selectors.results import (
    COMPLAINTS,
    SOURCES,
    EntryRow,
    Found,
    KindRow,
    Mix,
    results_of,
)
from inventory.catalog.models import Equipment
from inventory.stock.selectors.among import Among
from inventory.stock.selectors.lineage import is_standing
from shopfloor.days import day_end, day_start, shop_zone

ENTRIES_MIN: Final = 2
"""An exposure of a single entry cannot be told from all else that entry went through."""
DAY_SECONDS: Final = 86_400
OLDEST_SHARE: Final = 0.95
"""An age past that of so many entries counts as the oldest: one forgotten can is no scale."""


@dataclass(slots=True)
class Period:
    """What was found.

    Attributes:
        results: By cell.
        kinds: Of test.
        exposures: As many as rows of `at_work`; no two the same.
        at_work: (exposures, cells) from 0 to 1.
        is_spread: Whether good pieces were taken to be spread evenly over the stations.
        untold: Pieces tested by checks, or complained of, of which nobody can say what they were.
        complaints: That were looked at, all told of the defect or the chosen ones.
        of_complaints: (complaints, cells) 1 where its pieces may be of the entry of a cell.
        parts: Kinds of equipment that failures are told by, and customers cannot tell.
    """

    results: Results
    kinds: list[KindRow]
    exposures: list[Exposure]
    at_work: csr_array
    is_spread: bool
    untold: int
    complaints: Sequence[OneComplaint]
    of_complaints: csr_array
    parts: Collection[str]

    def complaints_with(self, number: int, chosen: Collection[str]) -> int | None:
        """How many of these may be of an exposure; None where customers cannot tell."""
        if not chosen or self.exposures[number].kind in self.parts:
            return None
        met = self.at_work[[number]].toarray()[0] >= HALF
        found = (self.of_complaints @ met.astype(np.float64)) > 0
        rows = zip(self.complaints, found, strict=True)
        return sum(1 for row, is_found in rows if is_found and row.code in chosen)


def stages_of(reason: ScrapReason, first_on: date, last_on: date) -> list[str]:
    """Codes of the stages that a reason is given at: its own, else where it was in those days.

    By scrap or by a check. Where only customers told of it, any stage may be at fault: those that
    something was made at. One statement where it has no stage of its own, two then.
    """
    if reason.stage is not None:
        return [reason.stage.code]
    given = _standing(first_on, last_on).filter(tallies__scrap_reason=reason)
    checked = stages_checked_for(reason, *_from_to(first_on, last_on))
    stages = Stage.objects.filter(
        Q(pk__in=given.order_by().values("batch__stage")) | Q(pk__in=checked)
    )
    found = list(stages.values_list("code", flat=True))
    if not found and Complaint.objects.filter(defect=reason).exists():
        busy = _standing(first_on, last_on).order_by().values("batch__stage")
        found = list(Stage.objects.filter(pk__in=busy).values_list("code", flat=True))
    return found


def period(
    reason: ScrapReason,
    stage: str,
    first_on: date,
    last_on: date,
    sources: Collection[str] = SOURCES,
    *,
    on: date,
    only: Collection[str] = (),
) -> Period | None:
    """Results and exposures of a stage's entries; None where nothing was tested.

    At most nine statements, whatever their number, eleven more where customers told of the defect.
    Memory for entries x what went into each. `only` are the complaints that count, by code.
    """
    entries = _entries(stage, first_on, last_on)
    entry_ids = [entry.id for entry in entries]
    equipment = {each.pk: each for each in Equipment.objects.all()}
    untold, customers = 0, None
    complaints: Sequence[OneComplaint] = ()
    if COMPLAINTS in sources:
        is_alone = len(sources) == 1
        customers, untold, complaints = found_by_customers(
            reason, entry_ids, stage=stage, first_on=first_on, on=on, is_alone=is_alone, only=only
        )
    found = results_of(reason, entries, equipment, sources=sources, customers=customers)
    if not found.cells:
        return None
    columns = _Columns(len(entries))
    factors = list(
        EntryFactor.objects.filter(Among("entry", entry_ids)).values_list(
            "entry_id", "equipment__code", "equipment__kind", "name", "value"
        )
    )
    _add_circumstances(columns, entries, factors)
    _add_lots(columns, entries)
    exposures, at_work = _by_cell(columns, found, equipment)
    results = Results(
        tested=np.array([cell.tested for cell in found.cells], dtype=np.float64),
        failed=np.array([cell.failed for cell in found.cells], dtype=np.float64),
        entry=np.array([cell.entry for cell in found.cells], dtype=np.int64),
        test=np.array([cell.test for cell in found.cells], dtype=np.int64),
    )
    untold += found.untold
    place = {entry_id: number for number, entry_id in enumerate(entry_ids)}
    return Period(
        results,
        found.kinds,
        exposures,
        at_work,
        found.is_spread,
        untold,
        complaints,
        _of_complaints(complaints, place, results.entry),
        {equipment[cell.equipment_id].kind for cell in found.cells if cell.equipment_id},
    )


def _of_complaints(
    complaints: Sequence[OneComplaint], place: Mapping[int, int], entry: Places
) -> csr_array:
    """(complaints, cells) 1 where its pieces may be of the cell's entry."""
    rows = [np.isin(entry, [place[each] for each in row.entry_ids]) for row in complaints]
    return csr_array(np.array(rows, dtype=np.float64).reshape(len(rows), len(entry)))


def _from_to(first_on: date, last_on: date) -> tuple[datetime, datetime]:
    return day_start(first_on), day_end(last_on)


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
        .values_list("pk", "posting__at", "done_by__username", "batch__item__code", "batch_id")
    )
    return [EntryRow(*row) for row in rows]


@dataclass(slots=True)
class _Columns:
    """Exposures of entries: each a value from 0 to 1 an entry.

    What one entry alone, or every entry alike, went through is left out.
    """

    entries: int
    names: list[Exposure] = field(default_factory=list)
    sizes: list[int] = field(default_factory=list)
    places: list[Places] = field(default_factory=list)
    shares: list[Floats] = field(default_factory=list)

    def add(self, exposure: Exposure, places: Places, shares: Floats | None = None) -> None:
        """Add one.

        Args:
            exposure: Which.
            places: Of entries, each once.
            shares: As many, above 0; left out, all are 1.
        """
        if shares is None or shares.min() == shares.max() == 1:
            self.add_many([exposure], places, [len(places)])
        elif len(places) >= ENTRIES_MIN:
            self._keep([exposure], [len(places)], places, shares)

    def add_many(
        self, exposures: Sequence[Exposure], places: Places, sizes: Sequence[int] | Places
    ) -> None:
        """Add some that are wholly at work, or not.

        Args:
            exposures: Which.
            places: Of entries: of the first each once, then of the second ...
            sizes: How many of each.
        """
        sizes = np.asarray(sizes)
        is_told = (sizes >= ENTRIES_MIN) & (sizes < self.entries)
        kept = places[np.repeat(is_told, sizes)]
        names = [exposure for exposure, is_kept in zip(exposures, is_told, strict=True) if is_kept]
        self._keep(names, sizes[is_told].tolist(), kept, np.ones(len(kept)))

    def _keep(
        self, names: Sequence[Exposure], sizes: Sequence[int], places: Places, shares: Floats
    ) -> None:
        self.names += names
        self.sizes += sizes
        self.places.append(places)
        self.shares.append(shares)

    def table(self) -> csr_array:
        """(exposures, entries) values."""
        return csr_array(
            (
                np.concatenate([*self.shares, np.zeros(0)]),
                np.concatenate([*self.places, np.zeros(0, dtype=np.int64)]),
                np.cumsum([0, *self.sizes]),
            ),
            shape=(len(self.names), self.entries),
        )


def _add_circumstances(
    columns: _Columns, entries: Sequence[EntryRow], factors: Iterable[tuple[Any, ...]]
) -> None:
    """Who, when, what was made, on what equipment, and what was noted."""
    place = {entry.id: number for number, entry in enumerate(entries)}
    levels: dict[Exposure, set[int]] = defaultdict(set)
    named: dict[str, dict[int, str]] = defaultdict(dict)
    for number, entry in enumerate(entries):
        local = entry.at.astimezone(shop_zone())
        levels[Exposure("person", entry.done_by)].add(number)
        levels[Exposure("item made", entry.item)].add(number)
        levels[Exposure("month", f"{local:%Y-%m}")].add(number)
        half = "before noon" if local.hour < 12 else "after noon"  # noqa: PLR2004
        levels[Exposure("time of day", half)].add(number)
    for entry_id, code, kind, name, value in factors:
        if code is not None:
            levels[Exposure(kind, code)].add(place[entry_id])
        else:
            named[name][place[entry_id]] = value
    for name, values in named.items():
        for number, band in band_names(values).items():
            levels[Exposure(name, band)].add(number)
    for exposure, numbers in levels.items():
        columns.add(exposure, np.array(sorted(numbers)))


def _add_lots(columns: _Columns, entries: Sequence[EntryRow]) -> None:
    """Every lot upstream, its supplier, and how old what was open or mixed had become."""
    at = np.array([entry.at.timestamp() for entry in entries])
    nowhere = np.full(len(entries), -np.inf)
    suppliers: dict[str, list[Places]] = defaultdict(list)
    ages: dict[Exposure, Floats] = {}
    lots = lots_of_entries([entry.id for entry in entries])
    names = [Exposure("lot", lot.code) for lot in lots.rows]
    columns.add_many(names, lots.places, np.diff(lots.ends, prepend=0))
    for number, lot in enumerate(lots.rows):
        if lot.supplier is not None:
            suppliers[f"{lot.supplier} of {lot.item}"].append(lots.places_of(number))
        if begun := lot.begun:
            places = lots.places_of(number)
            age = Exposure(AGE, f"of {lot.item} since {begun.event}")
            days_of = ages.setdefault(age, nowhere.copy())
            days = np.maximum(0, (at[places] - begun.at.timestamp()) / DAY_SECONDS)
            days_of[places] = np.maximum(days_of[places], days)
    for name, found in suppliers.items():
        columns.add(Exposure("supplier", name), np.unique(np.concatenate(found)))
    for exposure, days_of in ages.items():
        _add_age(columns, exposure, days_of)


def _add_age(columns: _Columns, exposure: Exposure, days_of: Floats) -> None:
    """Ages from 0, fresh, to 1, as old as it gets; none where it never grows old."""
    days = np.sort(days_of[days_of >= 0])
    most = days[int(OLDEST_SHARE * (len(days) - 1))]
    if most > 0:
        places = np.flatnonzero(days_of > 0)
        columns.add(exposure, places, np.minimum(1.0, days_of[places] / most))


def _by_cell(
    columns: _Columns, found: Found, equipment: Mapping[int, Equipment]
) -> tuple[list[Exposure], csr_array]:
    """Exposures of entries and of stations, a value a cell; the same ones under one name."""
    cells = found.cells
    entry_of = np.array([cell.entry for cell in cells])
    stations: dict[int, list[int]] = defaultdict(list)
    for number, cell in enumerate(cells):
        if cell.equipment_id is not None:
            stations[cell.equipment_id].append(number)
    of_entry = columns.table()
    if found.mixes:  # by share: of a mix, half of which met something, that is half at work
        of_entry = csr_array(hstack([of_entry, of_entry @ _shares(found.mixes, columns.entries)]))
    parts = [of_entry[:, entry_of]]
    names = list(columns.names)
    if stations:
        ends = np.cumsum([0, *map(len, stations.values())])
        numbers = np.array([number for its in stations.values() for number in its])
        parts.append(
            csr_array((np.ones(len(numbers)), numbers, ends), shape=(len(stations), len(cells)))
        )
        names += [Exposure(equipment[key].kind, equipment[key].code) for key in stations]
    return _distinct(names, csr_array(vstack(parts, format="csr")))


def _shares(mixes: Sequence[Mix], entries: int) -> csr_array:
    """(entries, mixes) share of each entry's pieces in each mix."""
    places = [place for mix in mixes for place in mix]
    numbers = [number for number, mix in enumerate(mixes) for _ in mix]
    shares = [pieces / sum(mix.values()) for mix in mixes for pieces in mix.values()]
    return csr_array((shares, (places, numbers)), shape=(entries, len(mixes)))


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
