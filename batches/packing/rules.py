"""How what was shipped answers the lines of an order."""

from __future__ import annotations

from collections.abc import Sequence


def answered(*, ordered: Sequence[int], shipped: int) -> list[int]:
    """Pieces shipped on each line for one item of an order: the first line is filled first.

    Args:
        ordered: Pieces of each line, in the order's own order.
        shipped: Pieces of the item shipped on the whole order, >= 0.

    Returns:
        One number a line; they add up to `shipped`, so the last line shows what was too many.
    """
    assert shipped >= 0
    parts = []
    rest = shipped
    for pieces in ordered:
        parts.append(min(pieces, rest))
        rest -= parts[-1]
    if parts:
        parts[-1] += rest
    return parts
