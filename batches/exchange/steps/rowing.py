"""Going through rows: who imports, how far it is, and which row a refusal came of."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any

from batches.exchange.errors import ImportRefusedError
from batches.exchange.rules.reading import Row
from batches.exchange.selectors.checking import CheckedSheets
from batches.exchange.steps.naming import LotNames
from shopfloor.errors import ShopError
from shopfloor.fields import Amount
from shopfloor.models import User
from shopfloor.stamp import Stamp
from shopfloor.units import to_base


@dataclass(frozen=True, slots=True)
class Importing:
    """One import while it is posted.

    Attributes:
        sheets: What was checked.
        by: Who imports.
        now: When.
        on_rows: Told the number of rows that were just posted.
        lots: Finds the lots that rows name.
    """

    sheets: CheckedSheets
    by: User
    now: datetime
    on_rows: Callable[[int], None]
    lots: LotNames = field(default_factory=LotNames)

    def stamp(self, at: datetime | None = None, reason: str = "") -> Stamp:
        """Who, when and why; now unless told otherwise."""
        return Stamp(by=self.by, at=at or self.now, now=self.now, reason=reason)

    def each(self, sheet: str) -> Iterator[Row]:
        """The rows of a sheet, one after the other."""
        for row in self.sheets.rows[sheet]:
            yield row
            self.on_rows(1)

    def qty_base(self, item: str, amount: Decimal, unit: str) -> int:
        """Base units of an item in a checked amount; no unit: pieces."""
        return to_base(amount=amount, unit=unit or "each", item=self.sheets.measures[item])


@contextmanager
def refusals_of(row: Row) -> Iterator[None]:
    """Say of a refusal which row it came of.

    Raises:
        ImportRefusedError: with the row and what the refusal said.
    """
    try:
        yield
    except ImportRefusedError:
        raise
    except ShopError as refused:
        advice = f"{refused.detail} {_facts(refused.facts)}".strip()
        problem = row.problem("", advice)
        raise ImportRefusedError(
            "Nothing was imported: one row cannot be posted.", problems=[problem]
        ) from refused


def documents(rows: Iterable[Row]) -> list[list[Row]]:
    """Rows of one document together, in the order of the documents' first rows."""
    found: dict[Any, list[Row]] = {}
    for row in rows:
        found.setdefault(row[row.sheet.group], []).append(row)
    return list(found.values())


def filled(row: Row, names: Mapping[str, str]) -> dict[str, Any]:
    """The filled cells, by the names that they have elsewhere."""
    return {there: row[here] for here, there in names.items() if row[here] is not None}


def amount_in(row: Row, amount: str = "amount", unit: str = "unit") -> Amount | None:
    """An amount as it was written, if it was."""
    return None if row[amount] is None else Amount(row[amount], row[unit])


def _facts(facts: Mapping[str, object]) -> str:
    """What a person needs of the facts, in one line."""
    told = [f"{name} {_plain(value)}" for name, value in facts.items() if value or value == 0]
    return f"({'; '.join(told)})" if told else ""


def _plain(value: object) -> str:
    if isinstance(value, Mapping) and set(value) == {"amount", "unit"}:
        return f"{value['amount']} {value['unit']}"
    if isinstance(value, Mapping):
        return ", ".join(f"{name} {_plain(part)}" for name, part in value.items())
    if isinstance(value, Sequence) and not isinstance(value, str):
        return " and ".join(_plain(part) for part in value)
    return str(value)
