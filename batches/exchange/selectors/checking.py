"""Checking the sheets of an import, against each other and against the shop. Writes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any, Final

from django.db.models import Model

from batches.bills.models import Bill, Stage
from batches.exchange.errors import ImportRefusedError
from batches.exchange.rules.crossing import (
    Known,
    crossing_problems,
    given_codes,
    learn,
    lot_and_parents,
    mentions_of,
)
from batches.exchange.rules.kinds import Clock
from batches.exchange.rules.problems import Problem
from batches.exchange.rules.reading import (
    Reading,
    Row,
    Source,
    labels_in_order,
    read_files,
)
from batches.exchange.rules.rowwise import row_problems
from batches.exchange.rules.writing import AS_OURS, Writing
from batches.exchange.selectors.imported import imported_before, kept_headings
from batches.packing.models import Box, Customer, CustomerOrder
from batches.quality.models import CheckDefinition
from batches.runs.models import Batch, ScrapReason
from inventory.catalog.models import Colorway, Equipment, Item, LureModel, Place, Supplier
from inventory.catalog.selectors import measure_of
from inventory.purchasing.models import SupplierOrder
from inventory.stock.models import Lot
from shopfloor.models import User
from shopfloor.units import Measure

_ASKED_AT_ONCE: Final = 500  # every SQLite takes so many values in one statement

_TABLES: Final[Mapping[str, tuple[type[Model], str]]] = {
    "people": (User, "username"),
    "models": (LureModel, "code"),
    "colorways": (Colorway, "code"),
    "places": (Place, "code"),
    "equipment": (Equipment, "code"),
    "suppliers": (Supplier, "code"),
    "items": (Item, "code"),
    "stages": (Stage, "code"),
    "scrap_reasons": (ScrapReason, "code"),
    "check_definitions": (CheckDefinition, "code"),
    "customers": (Customer, "code"),
    "bills": (Bill, "item__code"),
    "lots": (Lot, "code"),
    "supplier_orders": (SupplierOrder, "code"),
    "customer_orders": (CustomerOrder, "code"),
    "runs": (Batch, "code"),
    "boxes": (Box, "code"),
}


@dataclass(frozen=True, slots=True)
class CheckedSheets:
    """Sheets in which nothing is wrong that could be found without writing.

    Attributes:
        rows: By name of the sheet, in their order.
        measures: How each item in them is measured, by its code.
        lot_items: The item of each lot that they name, by the lot's code.
        sources: Where each sheet came from, and how it was read.
        headings: What their own headings stood for, as `Writing.headings` has it.
    """

    rows: Mapping[str, list[Row]]
    measures: Mapping[str, Measure]
    lot_items: Mapping[str, str]
    sources: Sequence[Source]
    headings: Mapping[tuple[str, str], str]

    @property
    def row_count(self) -> int:
        """Rows of all sheets."""
        return sum(map(len, self.rows.values()))


def checked_sheets(
    files: Mapping[str, bytes], clock: Clock, writing: Writing = AS_OURS
) -> CheckedSheets:
    """Read and check every sheet. About one query a table and 500 codes named, and two more.

    Args:
        files: Contents by file name.
        clock: The shop's zone, and now.
        writing: What somebody says of how they are written.

    Raises:
        ImportRefusedError: with every problem found.
    """
    return checked(read_sheets(files, clock, writing))


def read_sheets(files: Mapping[str, bytes], clock: Clock, writing: Writing = AS_OURS) -> Reading:
    """Read every sheet, its headings as they were said to be read before. One query.

    Args:
        files: Contents by file name.
        clock: The shop's zone, and now.
        writing: What somebody says of how they are written.
    """
    headings = {**kept_headings(), **writing.headings}
    return read_files(files, clock, replace(writing, headings=headings))


def checked(reading: Reading) -> CheckedSheets:
    """Check what was read. About one query a table and 500 codes named, and one more.

    Raises:
        ImportRefusedError: with every problem found.
    """
    refuse_imported_before(reading.sources)
    known = _known(reading)
    learn(reading, known)
    problems = [*reading.problems, *crossing_problems(reading, known)]
    for rows in reading.rows.values():
        for row in rows:
            problems += row_problems(row)
    _refuse(problems, reading.sources)
    return CheckedSheets(
        rows=reading.rows,
        measures=known.measures,
        lot_items=known.lot_items,
        sources=reading.sources,
        headings=reading.headings,
    )


def refuse_imported_before(sources: Sequence[Source]) -> None:
    """Refuse sheets that came in before, which have nothing new in them. One query.

    Raises:
        ImportRefusedError: with each.
    """
    _refuse(imported_before(sources), sources)


def _refuse(problems: Iterable[Problem], sources: Sequence[Source]) -> None:
    """Refuse if there is any, in the order of the sheets and their rows.

    Raises:
        ImportRefusedError: with every problem.
    """
    places = {label: place for place, label in enumerate(labels_in_order(sources))}
    found = sorted(set(problems), key=lambda each: (places.get(each.file, -1), *each))
    if found:
        noun = "problem" if len(found) == 1 else "problems"
        raise ImportRefusedError(f"Nothing was imported: {len(found)} {noun}.", problems=found)


def _known(reading: Reading) -> Known:
    """What the shop has of all that the sheets name or give."""
    wanted = {name: set(codes) for name, codes in given_codes(reading).items()}
    for rows in reading.rows.values():
        for row in rows:
            for _, mention in mentions_of(row):
                wanted[mention.sheet].add(mention.code)
    wanted["lots"] |= {each for code in wanted["lots"] for each in lot_and_parents(code)}
    codes = {name: _standing(name, wanted[name]) for name in _TABLES}
    return Known(
        codes=codes,
        lot_items=dict(_lot_items(codes["lots"])),
        measures={item.code: measure_of(item) for item in _items(codes)},
    )


def _standing(name: str, codes: Iterable[str]) -> set[str]:
    model, column = _TABLES[name]
    return {
        code
        for some in _chunks(codes)
        for code in model._default_manager.filter(**{f"{column}__in": some}).values_list(
            column, flat=True
        )
    }


def _lot_items(codes: Iterable[str]) -> Iterator[tuple[str, str]]:
    for some in _chunks(codes):
        yield from Lot.objects.filter(code__in=some).values_list("code", "item__code")


def _items(codes: Mapping[str, set[str]]) -> Iterator[Item]:
    """Items named, and those of the lots named."""
    for some in _chunks(codes["items"] | codes["bills"]):
        yield from Item.objects.filter(code__in=some)
    for some in _chunks(codes["lots"]):
        yield from Item.objects.filter(lots__code__in=some).distinct()


def _chunks(codes: Iterable[str]) -> Iterator[list[Any]]:
    rest = iter(sorted(codes))
    while some := list(islice(rest, _ASKED_AT_ONCE)):
        yield some
