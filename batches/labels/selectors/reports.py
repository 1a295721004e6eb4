"""What reports have in common: amounts and moments as they say them, tables of rows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from batches.labels.rules.papers_report import Heading, Table
from batches.labels.selectors.moments import minute_text
from inventory.stock.selectors.amounts import AmountRow

ADVICE = (
    "A worksheet out of the shop's own records. It says what was written down, not what the law "
    "asks for: a licensed adviser decides whom to tell."
)


def amount_text(amount: AmountRow) -> str:
    """`2.5 kg`; pieces without a unit."""
    return amount.amount if amount.unit == "each" else f"{amount.amount} {amount.unit}"


def moment_text(moment: datetime | None) -> str:
    """The shop's day and time, or nothing."""
    return "" if moment is None else minute_text(moment)


def table(headings: Sequence[Heading], rows: Iterable[Iterable[str]], *, nothing: str) -> Table:
    """A table."""
    return Table(headings=tuple(headings), rows=tuple(map(tuple, rows)), nothing=nothing)
