"""What tests read out of an answer."""

from __future__ import annotations

from datetime import datetime, timedelta

from batches.trace.selectors.rows import Downstream, Upstream
from inventory.stock.selectors.amounts import AmountRow
from tests.batches import floor

Trace = Downstream | Upstream


def lots_of(trace: Trace) -> dict[str, int]:
    """Codes and depths."""
    return {node.code: node.depth for node in trace.nodes}


def flows_of(trace: Trace) -> list[tuple[str, str, str | None, str | None]]:
    """Taken lot, its amount, made lot, its amount."""
    assert trace.edges is not None
    return [
        (
            edge.taken_lot,
            " ".join(edge.taken),
            edge.made_lot,
            None if edge.made is None else " ".join(edge.made),
        )
        for edge in trace.edges
    ]


def sums_of(trace: Trace) -> dict[str, tuple[dict[str, str], dict[str, str], str]]:
    """By batch: what went in, what came out, what was scrapped."""
    assert trace.batches is not None
    return {
        row.batch: (
            {part.item: " ".join(part.amount) for part in row.taken},
            {part.item: " ".join(part.amount) for part in row.made},
            " ".join(row.scrapped),
        )
        for row in trace.batches
    }


def at(minute: int) -> datetime:
    return floor.NOON + timedelta(minutes=minute)


def each(pieces: int) -> AmountRow:
    return AmountRow(str(pieces), "each")
