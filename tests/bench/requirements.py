"""Requirements of 5,000 items and 29,000 bill lines for a year of weeks.

The arithmetic beside a bare kernel that explodes, nets and offsets by levels and knows no more.
The whole call beside the driver reading the same rows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from time import perf_counter
from typing import Any, Final

import numpy as np
from django.db import connection
from django.utils import timezone
from scipy.sparse import csr_array

from batches.bills.models import Bill, BillLine, BillRevision, RevisionState, Stage
from batches.planning.models import BuildPlan, BuildPlanLine
from batches.planning.rules.lot_sizing import METHODS, Sizing, Whole
from batches.planning.rules.methods import NO_LIMIT, LotSizing
from batches.planning.rules.requirements import Lines, PlanningInputs, levels_of, requirements
from batches.planning.rules.weeks import monday
from batches.planning.selectors.rows import requirement_rows
from inventory.catalog.models import Item
from shopfloor.days import shop_day
from shopfloor.models import User
from tests.batches.floor import enter_owner
from tests.bench.figures import Figure

ITEMS: Final = 5_000
LINES: Final = 29_000
WEEKS: Final = 52
DEEP: Final = 6  # levels
SEED: Final = 6
RUNS: Final = 25

READ: Final = """
    SELECT b.item_id, l.item_id, l.per_piece_base, l.per_batch_base, l.loss_ratio
    FROM batches_billline l JOIN batches_billrevision r ON r.id = l.revision_id
    JOIN batches_bill b ON b.id = r.bill_id WHERE r.state = 'current' AND l.role = 'taken'
"""


def rows() -> Iterator[Figure]:
    """Arithmetic alone; with every lot size at the least cost; then the whole call."""
    shop = network()
    assert (requirements(plain(shop)).gross_base == bare(plain(shop))).all()
    what = f"requirements, {ITEMS} items, {LINES} lines, {WEEKS} weeks"
    ours, kernel = beside(lambda: requirements(shop), lambda: bare(shop), RUNS)
    yield Figure(f"{what}: arithmetic", ours, kernel, 0.5)
    least = replace(
        shop,
        sizing=replace(
            shop.sizing,
            method=np.where(
                shop.levels == DEEP - 1, METHODS.index(LotSizing.WAGNER_WHITIN), 0
            ).astype(np.int8),
        ),
    )
    ours, kernel = beside(lambda: requirements(least), lambda: bare(shop), 5)
    yield Figure("the same, what is bought at the least cost", ours, kernel, 0)
    _fill(shop)
    now = timezone.now()
    ours, driver = beside(lambda: requirement_rows(now=now), _read, 3)
    yield Figure("the whole call, beside the driver reading its rows", ours, driver, 0)


def network() -> PlanningInputs:
    """A made-up shop: a tenth of the lines take parts of a base unit, a tenth something a batch."""
    chance = np.random.default_rng(SEED)
    level = np.sort(chance.choice(DEEP, ITEMS, p=[0.3, 0.1, 0.1, 0.1, 0.1, 0.3]))
    starts = np.searchsorted(level, np.arange(DEEP + 1))
    pairs: set[tuple[int, int]] = set()
    above = int(starts[DEEP - 1])
    pairs.update((int(chance.integers(starts[level[n] - 1], starts[level[n]])), n)
                 for n in range(int(starts[1]), ITEMS))  # fmt: skip
    while len(pairs) < LINES:
        parent = int(chance.integers(above))
        pairs.add((parent, int(chance.integers(starts[level[parent] + 1], ITEMS))))
    parent, child = np.array(sorted(pairs)).T
    levels = levels_of(ITEMS, parent, child)
    place = np.empty(ITEMS, np.int64)
    place[np.argsort(levels, kind="stable")] = np.arange(ITEMS)
    levels, parent, child = np.sort(levels), place[parent], place[child]
    order = np.lexsort((child, levels[parent]))
    is_made = np.isin(np.arange(ITEMS), parent)
    ones = np.ones(ITEMS, np.int64)
    return PlanningInputs(
        levels=levels,
        wanted_base=np.where(levels[:, None] == 0, chance.integers(0, 50, (ITEMS, WEEKS)), 0),
        on_hand_base=chance.integers(0, 500, ITEMS),
        ending_base=chance.integers(0, 9, (ITEMS, WEEKS)) * (chance.random((ITEMS, 1)) < 0.05),
        receipts_base=np.where(chance.random((ITEMS, WEEKS)) < 0.01, 100, 0),
        safety_base=chance.integers(0, 20, ITEMS),
        lead_weeks=chance.integers(0, 4, ITEMS),
        good_num=np.where(is_made, 97, 1),
        good_den=np.where(is_made, 100, 1),
        sizing=Sizing(
            method=np.zeros(ITEMS, np.int8),
            lot_base=ones,
            weeks_max=ones * NO_LIMIT,
            balance=np.full(ITEMS, 5000.0),
            pack_base=ones,
            least_base=ones,
        ),
        lines=Lines(
            parent=parent[order],
            child=child[order],
            num=chance.integers(1, 6, LINES),
            den=np.where(chance.random(LINES) < 0.1, 3, 1),
            per_batch_base=np.where(chance.random(LINES) < 0.1, 15, 0),
        ),
    )


def plain(shop: PlanningInputs) -> PlanningInputs:
    """What the bare kernel knows of: no yields, no parts of units, nothing that expires."""
    lines = replace(
        shop.lines,
        den=np.ones(LINES, np.int64),
        per_batch_base=np.zeros(LINES, np.int64),
    )
    nothing = np.zeros((ITEMS, WEEKS), np.int64)
    ones = np.ones(ITEMS, np.int64)
    return replace(
        shop,
        lines=lines,
        good_num=ones,
        good_den=ones,
        ending_base=nothing,
        receipts_base=nothing,
        safety_base=ones * 0,
    )


def bare(shop: PlanningInputs) -> Whole:
    """Gross by levels, lot for lot, nothing else."""
    gross = shop.wanted_base.copy()
    released = np.zeros_like(gross)
    lines, depth = shop.lines, int(shop.levels[-1]) + 1
    bounds = np.searchsorted(shop.levels, np.arange(depth + 1))
    ends = np.searchsorted(shop.levels[lines.parent], np.arange(depth + 1))
    for level in range(depth):
        rows_of = slice(bounds[level], bounds[level + 1])
        short = np.cumsum(gross[rows_of], axis=1) - shop.on_hand_base[rows_of, None]
        net = np.diff(np.maximum.accumulate(np.maximum(short, 0), axis=1), axis=1, prepend=0)
        lead = shop.lead_weeks[rows_of]
        for weeks in np.unique(lead):
            at = np.flatnonzero(lead == weeks)
            part = net[at]
            released[bounds[level] + at, : WEEKS - weeks] = part[:, weeks:]
            released[bounds[level] + at, 0] += part[:, :weeks].sum(axis=1)
        taking = slice(ends[level], ends[level + 1])
        child = lines.child[taking]
        if len(child):
            firsts = np.flatnonzero(np.diff(child, prepend=-1))
            matrix = csr_array(
                (lines.num[taking], lines.parent[taking], np.append(firsts, len(child))),
                shape=(len(firsts), ITEMS),
            )
            gross[child[firsts]] += matrix @ released
    return gross


def beside(ours: Callable[[], Any], other: Callable[[], Any], runs: int) -> tuple[float, float]:
    """Seconds of both, in turns; the least of many, as others work here too."""
    pairs = [(_seconds(ours), _seconds(other)) for _ in range(runs)]
    return min(pair[0] for pair in pairs), min(pair[1] for pair in pairs)


def _seconds(work: Callable[[], Any]) -> float:
    start = perf_counter()
    work()
    return perf_counter() - start


def _read() -> None:
    with connection.cursor() as cursor:
        for statement in (
            READ,
            "SELECT * FROM inventory_item",
            "SELECT * FROM batches_buildplanline",
        ):
            cursor.execute(statement)
            cursor.fetchall()


def _fill(shop: PlanningInputs) -> None:
    """The same network as rows, written in bulk."""
    now = timezone.now()
    by = User.objects.order_by("pk").first() or enter_owner()
    stage = Stage.objects.create(code="MRP-BENCH", name="Bench", position=990)
    items = Item.objects.bulk_create(
        Item(
            code=f"MRP-{n}",
            name=f"Item {n}",
            kind="other",
            dimension="count",
            display_unit="each",
        )
        for n in range(ITEMS)
    )
    made = sorted(set(shop.lines.parent.tolist()))
    bills = Bill.objects.bulk_create(Bill(item=items[n], stage=stage) for n in made)
    revisions = BillRevision.objects.bulk_create(
        BillRevision(bill=bill, number=1, scrap_ratio="0.03", by=by, recorded_at=now)
        for bill in bills
    )
    revision_of = dict(zip(made, revisions, strict=True))
    lines = shop.lines
    positions = dict.fromkeys(made, 0)
    written = []
    for parent, child, num, once in zip(
        lines.parent.tolist(), lines.child.tolist(), lines.num.tolist(),
        lines.per_batch_base.tolist(), strict=True,
    ):  # fmt: skip
        positions[parent] += 1
        written.append(
            BillLine(
                revision=revision_of[parent],
                position=positions[parent],
                item=items[child],
                per_piece_base=num,
                per_batch_base=once,
            )
        )
    BillLine.objects.bulk_create(written, batch_size=2000)
    BillRevision.objects.filter(pk__in=[each.pk for each in revisions]).update(
        state=RevisionState.CURRENT, released_at=now
    )
    plan = BuildPlan.objects.create(code="MRP-BENCH", name="Bench", by=by, recorded_at=now)
    first_on = monday(shop_day(now))
    BuildPlanLine.objects.bulk_create(
        (
            BuildPlanLine(
                plan=plan,
                item=items[n],
                week_on=first_on + timedelta(days=7 * week),
                qty_base=int(shop.wanted_base[n, week]),
                recorded_at=now,
            )
            for n, week in np.argwhere(shop.wanted_base).tolist()
        ),
        batch_size=2000,
    )
