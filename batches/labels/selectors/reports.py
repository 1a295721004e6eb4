"""What reports have in common: amounts and moments as they say them, tables of rows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Final

from batches.labels.rules.papers_report import Heading, Table
from batches.labels.selectors.moments import minute_text
from batches.packing.selectors import ComplaintRow
from inventory.stock.selectors.amounts import AmountRow

ADVICE: Final = (
    "A worksheet out of the shop's own records. It says what was written down, not what the law "
    "asks for: a licensed adviser decides whom to tell."
)

FIGURES: Final = (
    "Received", "Made", "Parted", "Used", "Disposed", "Sent back", "Shipped", "Returned",
    "Unexplained", "Free", "Stopped",
)  # fmt: skip
NUMBERS: Final = frozenset(
    {
        *FIGURES, "A pack", "Amount", "At least", "At most", "Batches", "Copies", "Destroyed",
        "Entries", "Failed", "For", "Good", "In all", "Lower limit", "Measure", "On hand",
        "Once a batch", "Outstanding", "Packs", "Pieces", "Scrapped", "Takes", "Tested",
        "Upper limit", "Value", "Yield",
    }
)  # fmt: skip
"""Words over columns of numbers: their cells end at the right."""


def amount_text(amount: AmountRow) -> str:
    """`2.5 kg`; pieces without a unit."""
    return amount.amount if amount.unit == "each" else f"{amount.amount} {amount.unit}"


def moment_text(moment: datetime | None) -> str:
    """The shop's day and time, or nothing."""
    return "" if moment is None else minute_text(moment)


def table(widths: Mapping[str, float], rows: Iterable[Iterable[str]], *, nothing: str) -> Table:
    """A table.

    Args:
        widths: Percent of the width by the words over the column; 100 in all.
        rows: Cells, as many each.
        nothing: What to say where there is no row.
    """
    headings = tuple(
        Heading(words, percent / 100, words in NUMBERS) for words, percent in widths.items()
    )
    return Table(headings=headings, rows=tuple(map(tuple, rows)), nothing=nothing)


def complaint_table(complaints: Iterable[ComplaintRow]) -> Table:
    """What customers complained of."""
    widths = {"Complaint": 12, "Told on": 14, "Customer": 22, "Of": 20, "What": 22, "Pieces": 10}
    rows = (
        [
            row.code,
            row.told_on.isoformat(),
            row.customer_name or "",
            row.box or row.lot or "",
            row.defect_name,
            str(row.pieces),
        ]
        for row in complaints
    )
    return table(widths, rows, nothing="None names a box or a lot of it.")
