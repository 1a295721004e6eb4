"""What rows must say together: documents of several rows, and codes that others must know."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final

from batches.exchange.rules import SHEETS
from batches.exchange.rules.kinds import Mention
from batches.exchange.rules.lists import LotUsed, Tally
from batches.exchange.rules.problems import Problem
from batches.exchange.rules.reading import Reading, Row
from shopfloor.errors import InvalidInputError
from shopfloor.units import UNITS, Dimension, Measure, to_base

NOUNS: Final[Mapping[str, str]] = {
    "people": "person",
    "bills": "bill of",
    "lots": "lot",
    "runs": "batch",
    "equipment": "equipment",
    "boxes": "box",
}
"""What a code of a sheet names, where that is not the sheet's own name without its s."""
_LOTS: Final = "lots"
_LOOKED_AT: Final = 500  # codes looked through for one that may be meant; it takes a while


@dataclass(slots=True)
class Known:
    """What the shop has of the codes that the sheets name or give.

    Attributes:
        codes: By sheet.
        measures: How an item is measured, by its code.
        lot_items: The item of a lot, by the lot's code.
    """

    codes: dict[str, set[str]] = field(default_factory=dict)
    measures: dict[str, Measure] = field(default_factory=dict)
    lot_items: dict[str, str] = field(default_factory=dict)


def mentions_of(row: Row) -> Iterator[tuple[str, Mention]]:
    """The codes that a row names, each with its column."""
    for column in row.sheet.columns:
        if column.name in row.cells:
            for mention in column.kind.mentions(row[column.name]):
                yield column.name, mention


def given_codes(reading: Reading) -> dict[str, set[str]]:
    """The codes that the sheets themselves bring, by what they are codes of."""
    given: dict[str, set[str]] = {sheet.space: set() for sheet in SHEETS}
    for sheet in SHEETS:
        rows = [row for row in reading.rows[sheet.name] if sheet.gives and row[sheet.gives]]
        given[sheet.space].update(row[sheet.gives] for row in rows)
        if sheet.name == "equipment":
            given[sheet.space].update(part for row in rows for part in _parts(row))
    return given


def _parts(row: Row) -> Iterator[str]:
    count = row["parts"] or 0
    width = len(str(count))
    for number in range(1, count + 1):
        yield f"{row['code']}-{number:0{width}}"


def lot_and_parents(code: str) -> list[str]:
    """A lot's code and those of the lots it may have been split from: `A.1.2`, `A.1`, `A`."""
    parent, _, number = code.rpartition(".")
    return [code, *(lot_and_parents(parent) if parent and number.isdigit() else [])]


def learn(reading: Reading, known: Known) -> None:
    """Add what the sheets say of items and lots to what the shop knows of them."""
    for row in reading.rows["items"]:
        if row["code"] and row["unit"]:
            known.measures[row["code"]] = Measure(
                dimension=UNITS[row["unit"]].dimension,
                piece_mass_mg=row["piece_mass_mg"],
                density_mg_per_ul=row["density_mg_per_ul"],
            )
    for sheet in SHEETS:
        for row in reading.rows[sheet.name] if sheet.space == _LOTS else ():
            if row["lot"] and row["item"]:
                known.lot_items[row["lot"]] = row["item"]


def crossing_problems(reading: Reading, known: Known) -> Iterator[Problem]:
    """Contradictions between rows, and between the sheets and the shop. `learn` comes first."""
    # A sheet that was not read whole may well bring what others name.
    given = {name: here for name, here in given_codes(reading).items() if reading.is_whole(name)}
    for rows in reading.rows.values():
        yield from _unequal(rows)
        for row in rows:
            yield from _standing(row, known)
            yield from _unknown(row, given, known)
            yield from _unmeasured(row, known)


def _unequal(rows: Iterable[Row]) -> Iterator[Problem]:
    first: dict[object, Row] = {}
    for row in rows:
        sheet = row.sheet
        key = row[sheet.group] if sheet.group else None
        if key is None:
            continue
        head = first.setdefault(key, row)
        for name in sheet.shared:
            if name in row.cells and name in head.cells and row[name] != head[name]:
                yield row.problem(
                    name, f"Row {head.number} of the same {sheet.group} has {head.texts[name]}."
                )
            elif name in row.texts and name not in head.texts:
                yield row.problem(
                    name, f"Row {head.number}, the first of this {sheet.group}, has none."
                )


def _standing(row: Row, known: Known) -> Iterator[Problem]:
    sheet = row.sheet
    if not sheet.gives or not row[sheet.gives]:
        return
    if row[sheet.gives] in known.codes.get(sheet.space, ()):
        yield row.problem(
            sheet.gives, "It stands in this shop already; an import only adds. Leave the row out."
        )


def _unknown(row: Row, given: Mapping[str, set[str]], known: Known) -> Iterator[Problem]:
    for column, (space, code) in mentions_of(row):
        codes = lot_and_parents(code) if space == _LOTS else [code]
        here, there = given.get(space), known.codes.get(space, set())
        if here is None or any(each in here or each in there for each in codes):
            continue
        noun = NOUNS.get(space, space.removesuffix("s").replace("_", " "))
        files = ", ".join(f"in {sheet.file}" for sheet in SHEETS if sheet.space == space)
        close = difflib.get_close_matches(code, sorted(here) if len(here) <= _LOOKED_AT else [], 1)
        advice = f"No {noun} {code} {files} or in this shop."
        yield row.problem(column, advice + (f" Did you mean {close[0]}?" if close else ""))


def _unmeasured(row: Row, known: Known) -> Iterator[Problem]:
    """Amounts in a unit that the item cannot be measured in, and parts of pieces."""
    for column, item, amount, unit, in_parts in _amounts(row, known):
        measure = known.measures.get(item)
        if measure is None:
            continue
        is_count = measure.dimension is Dimension.COUNT
        if not unit and not is_count:
            yield row.problem(column, f"{item} is not counted in pieces. Write the unit, too.")
            continue
        try:
            base = to_base(amount=amount, unit=unit or "each", item=measure)
        except InvalidInputError as error:
            if not (in_parts and is_count and UNITS[unit].dimension is Dimension.COUNT):
                yield row.problem(column, error.detail)
            continue
        if not base and not in_parts:
            yield row.problem(column, f"It is less than the least that is kept of {item}.")


def _amounts(row: Row, known: Known) -> Iterator[tuple[str, str, Decimal, str, bool]]:
    """Column, item, amount, unit and whether parts of a piece are meant, of every amount."""
    for columns in row.sheet.amounts:
        amount, unit, item = (row[name] for name in columns[:3])
        if amount is not None and unit is not None and item:
            item = _item_of(item, known) if isinstance(item, LotUsed) else item
            is_unit = to_base_refuses_unit(amount, unit, known.measures.get(item))
            yield (
                columns.unit if is_unit else columns.amount, item, amount, unit, columns.in_parts,
            )  # fmt: skip
    if row.sheet.name == "runs" and row["item"]:
        yield from _amounts_of_run(row, known)


def _amounts_of_run(row: Row, known: Known) -> Iterator[tuple[str, str, Decimal, str, bool]]:
    for column in ("good", "scrap"):
        tally: Tally
        for tally in row[column] or ():
            yield column, row["item"], tally.amount, tally.unit, False
    if row["planned"]:
        yield "planned", row["item"], *row["planned"], False
    used: LotUsed
    for used in row["lots"] or ():
        if used.amount is not None:
            yield "lots", _item_of(used, known), used.amount, used.unit, False


def _item_of(used: LotUsed, known: Known) -> str:
    """The item of a lot; empty where only posting can tell."""
    if used.by == "item":
        return used.code
    codes = lot_and_parents(used.code) if used.by == "lot" else []
    return next((known.lot_items[code] for code in codes if code in known.lot_items), "")


def to_base_refuses_unit(amount: Decimal, unit: str, measure: Measure | None) -> bool:
    """Whether the unit, not the amount, is what the item cannot have."""
    if measure is None:
        return False
    try:
        to_base(amount=Decimal(0) * amount, unit=unit, item=measure)
    except InvalidInputError:
        return True
    return False
