"""How much stock a textbook rule holds where it serves as well as the product does.

Stock is compared at the same service only: in every cell, the items of one kind and one target, all
knobs of a rule are turned alike until their mean fill rate is ours. So a rule may not serve the
easy items for the hard ones, nor those of a low target for those of a high one; and it knows
afterwards, cell by cell, how far to turn, which no shop does.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from tests.bench.advice.living import Lived
from tests.bench.advice.shops import KINDS, TARGETS, Wares

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

NEAR: Final = 0.03

_TURNS: Final = (*range(-3, 7), 8, 10, 12, 15, 18, 22, 26, 30, 36, 42, 50, 60, 75, 100)
_CLOSE: Final = 5e-4  # of a fill rate: nearer to 1 nobody can turn


class Even(NamedTuple):
    """Sums over the items of a cell, between the two turns about our fill rate.

    Attributes:
        days: Stock in days of use.
        worth: Of stock.
        near: Items within `NEAR` of their target.
        is_reached: Whether the rule can be turned so far at all.
    """

    days: float
    worth: float
    near: float
    is_reached: bool


def cells(of: Wares) -> dict[tuple[int, float], Bools]:
    """Items of every kind and target that there are."""
    found = {
        (kind, target): (of.kind == kind) & (of.target == target)
        for kind in range(len(KINDS))
        for target in TARGETS
    }
    return {cell: part for cell, part in found.items() if part.any()}


def evened(
    of: Wares, ours: Lived, lived_turned: Callable[[Bools, int], Lived]
) -> dict[tuple[int, float], Even]:
    """Every cell of a rule; `lived_turned` lives some of the items with all knobs turned alike."""
    parts = cells(of)
    points: dict[tuple[int, float], list[tuple[float, Floats]]] = {cell: [] for cell in parts}
    wanted = {cell: float(ours.fill[part].mean()) - _CLOSE for cell, part in parts.items()}
    for turns in _TURNS:
        is_open = np.zeros(len(of.kind), bool)
        for cell, part in parts.items():
            is_open |= part & (not points[cell] or points[cell][-1][0] < wanted[cell])
        if not is_open.any():
            break
        lived = lived_turned(is_open, turns)
        some = of.only(is_open)
        for cell, part in cells(some).items():
            points[cell].append((float(lived.fill[part].mean()), sums(some, lived, part)))
    return {cell: _between(points[cell], wanted[cell]) for cell in parts}


def sums(of: Wares, lived: Lived, part: Bools) -> Floats:
    """Of some items: days in stock, worth of stock, how many are within `NEAR`."""
    is_near = abs(lived.fill - of.target) <= NEAR
    columns = [lived.days, lived.stock * of.price, is_near.astype(float)]
    return np.array([each[part].sum() for each in columns])


def _between(points: list[tuple[float, Floats]], wanted: float) -> Even:
    """On the line between the last turn that fills less and the first that fills as much."""
    for (fill_before, before), (fill, now) in pairwise([points[0], *points]):
        if fill >= wanted:
            share = max(0.0, (wanted - fill_before) / max(fill - fill_before, 1e-9))
            days, worth, near = (before + share * (now - before)).tolist()
            return Even(days, worth, near, is_reached=True)
    days, worth, near = points[-1][1].tolist()
    return Even(days, worth, near, is_reached=False)
