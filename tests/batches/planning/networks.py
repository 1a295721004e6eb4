"""Inputs of requirements from plain lists, and made-up networks of bills."""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import Any

import numpy as np

from batches.planning.rules.lot_sizing import METHODS, Sizing
from batches.planning.rules.methods import NO_LIMIT, LotSizing
from batches.planning.rules.requirements import Lines, PlanningInputs

LINE_COLUMNS = ("parent", "child", "num", "den", "per_batch_base")


def sizing(
    items: int,
    method: LotSizing = LotSizing.LOT_FOR_LOT,
    *,
    lot: Sequence[int] = (),
    weeks: int = NO_LIMIT,
    balance: float = 0.0,
    pack: int = 1,
    least: int = 1,
) -> Sizing:
    """Of items that are all ordered alike."""
    return Sizing(
        method=np.full(items, METHODS.index(method), np.int8),
        lot_base=np.array(lot or [1] * items, np.int64),
        weeks_max=np.full(items, weeks),
        balance=np.full(items, balance),
        pack_base=np.full(items, pack),
        least_base=np.full(items, least),
    )


def inputs(
    *,
    wanted: Sequence[Sequence[int]],
    on_hand: Sequence[int] = (),
    ending: Sequence[Sequence[int]] = (),
    receipts: Sequence[Sequence[int]] = (),
    safety: Sequence[int] = (),
    lead: Sequence[int] = (),
    good: Sequence[tuple[int, int]] = (),
    lines: Sequence[tuple[int, int, int, int, int]] = (),
    levels: Sequence[int] = (),
    sizing: Sizing | None = None,
) -> PlanningInputs:
    """Inputs; a line is parent, child, numerator, denominator, base units a batch."""
    items, weeks = len(wanted), len(wanted[0])
    level = list(levels) or [0] * items
    ordered = sorted(lines, key=lambda line: (level[line[0]], line[1]))
    columns = np.array(ordered, np.int64).reshape(-1, 5).T.copy()

    def whole(values: Any, shape: Any, fill: int = 0) -> Any:
        return np.array(values, np.int64) if len(values) else np.full(shape, fill, np.int64)

    return PlanningInputs(
        levels=np.array(level),
        wanted_base=np.array(wanted, np.int64),
        on_hand_base=whole(on_hand, items),
        ending_base=whole(ending, (items, weeks)),
        receipts_base=whole(receipts, (items, weeks)),
        safety_base=whole(safety, items),
        lead_weeks=whole(lead, items),
        good_num=whole([num for num, _ in good], items, 1),
        good_den=whole([den for _, den in good], items, 1),
        sizing=sizing or _lot_for_lot(items),
        lines=Lines(**dict(zip(LINE_COLUMNS, columns, strict=True))),
    )


def _lot_for_lot(items: int) -> Sizing:
    return sizing(items)


def network(seed: int, *, lots: bool) -> PlanningInputs:
    """A made-up network of up to nine items, bills up to five levels deep."""
    chance = random.Random(seed)  # noqa: S311 - no secret
    items, weeks = chance.randint(1, 9), chance.randint(1, 12)
    levels = [0]
    for _ in range(items - 1):
        levels.append(levels[-1] + chance.randint(0, 1))
    lines = [
        (above, below, chance.randint(1, 7), chance.choice([1, 1, 3]), chance.choice([0, 0, 9]))
        for above in range(items)
        for below in range(items)
        if levels[above] < levels[below] and chance.random() < 0.6
    ]

    def table(most: int, share: float) -> list[list[int]]:
        return [
            [chance.randint(0, most) * (chance.random() < share) for _ in range(weeks)]
            for _ in range(items)
        ]

    ending = table(30, 0.2)
    kinds = [chance.choice(METHODS) if lots else LotSizing.LOT_FOR_LOT for _ in range(items)]
    pack = [chance.choice([1, 1, 12]) if lots else 1 for _ in range(items)]
    return inputs(
        wanted=table(40, 0.5),
        on_hand=[sum(row) + chance.randint(0, 60) for row in ending],
        ending=ending,
        receipts=table(30, 0.2),
        safety=[chance.choice([0, 0, 15]) for _ in range(items)],
        lead=[chance.randint(0, 3) for _ in range(items)],
        good=[chance.choice([(1, 1), (97, 100), (2, 3)]) for _ in range(items)],
        lines=lines,
        levels=levels,
        sizing=Sizing(
            method=np.array([METHODS.index(kind) for kind in kinds], np.int8),
            lot_base=np.array([chance.choice([10, 25]) for _ in range(items)]),
            weeks_max=np.array([chance.choice([2, 4, NO_LIMIT]) for _ in range(items)]),
            balance=np.array([chance.choice([0.0, 20.0, 90.0]) for _ in range(items)]),
            pack_base=np.array(pack),
            least_base=np.array([each * chance.choice([1, 3 if lots else 1]) for each in pack]),
        ),
    )
