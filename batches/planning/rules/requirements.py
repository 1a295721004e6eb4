"""From what is wanted to what must be ordered and begun: gross to net, level by level.

Arrays are int64 base units, `(items, weeks)` or `(items,)`; week 0 is this one. Items stand in the
order of their levels, so everything that takes an item stands before it.

Source: J. Orlicky, Material Requirements Planning, 1975.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from scipy.sparse import csr_array

from batches.bills.rules import low_level_codes
from batches.planning.rules.lot_sizing import METHODS, Sizing, Whole, orders
from batches.planning.rules.methods import LotSizing
from shopfloor.errors import InvalidInputError
from shopfloor.units import AMOUNT_BASE_MAX

PRODUCT_MAX: Final = 2**62
"""No product of ours may come near what 64 bits hold."""

AMOUNT_MAX: Final = AMOUNT_BASE_MAX
"""Of an item in a week, from one level: so that weeks and levels add up below that."""

_FLOAT_EXACT: Final = 2**52
_DEEP: Final = 64  # levels; deeper bills are looked at for a circle


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Lines:
    """What one started piece of an item takes of another; `(lines,)` each.

    In the order of their parents' levels, then of children.

    Attributes:
        parent, child: Places of items.
        num, den: Base units a piece, losses of material included: a fraction.
        per_batch_base: Base units once a batch.
    """

    parent: Whole
    child: Whole
    num: Whole
    den: Whole
    per_batch_base: Whole

    def of(self, rows: Any) -> Lines:
        """Some of them."""
        names = ("parent", "child", "num", "den", "per_batch_base")
        return Lines(**{name: getattr(self, name)[rows] for name in names})


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class PlanningInputs:
    """Everything the requirements rest on.

    Attributes:
        levels: Of the items, ascending.
        wanted_base: From outside: plans, orders, and what open batches still take.
        on_hand_base: Usable now.
        ending_base: Of that, what can be used in this week for the last time.
        receipts_base: Open supplier orders, and what open batches will give.
        safety_base: What is kept in any week.
        lead_weeks: From order or start to receipt.
        good_num, good_den: Good pieces a started piece, a fraction; 1 where nothing is scrapped.
    """

    levels: Whole
    wanted_base: Whole
    on_hand_base: Whole
    ending_base: Whole
    receipts_base: Whole
    safety_base: Whole
    lead_weeks: Whole
    good_num: Whole
    good_den: Whole
    sizing: Sizing
    lines: Lines


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Requirements:
    """What follows, `(items, weeks)` but for `late_base`.

    Attributes:
        gross_base: What is taken in a week.
        planned_base: Planned orders by the week they must come in.
        released_base: The same by the week they are placed or begun; late ones in week 0.
        late_base: Of week 0, what should have been placed or begun before.
        begun: Pieces begun with them, those that will be scrapped included; and below, as many
            rows again, the batches that they are.
        spoiled_base: On hand and past its use when the week begins, in all until then.
    """

    gross_base: Whole
    planned_base: Whole
    released_base: Whole
    late_base: Whole
    begun: Whole
    spoiled_base: Whole

    @property
    def started_base(self) -> Whole:
        """Pieces begun."""
        return self.begun[: len(self.gross_base)]

    @property
    def batches(self) -> Whole:
        """Batches begun."""
        return self.begun[len(self.gross_base) :]


def levels_of(items: int, parent: Whole, child: Whole) -> Whole:
    """The longest way down to each item, by its place: its low-level code.

    Raises:
        InvalidInputError: the bills go in a circle; the facts name places.
    """
    found = np.zeros(items, np.int64)
    for _ in range(min(items, _DEEP)):
        deeper = found.copy()
        np.maximum.at(deeper, child, found[parent] + 1)
        if (deeper == found).all():
            return found
        found = deeper
    edges: dict[str, list[str]] = {str(place): [] for place in range(items)}
    for above, below in zip(parent.tolist(), child.tolist(), strict=True):
        edges[str(above)].append(str(below))
    codes = low_level_codes(edges)
    return np.array([codes[str(place)] for place in range(items)], np.int64)


def requirements(inputs: PlanningInputs) -> Requirements:
    """All of it, one level after another.

    Raises:
        InvalidInputError: amounts beyond what can be counted.
    """
    shape = inputs.wanted_base.shape
    found = Requirements(
        gross_base=inputs.wanted_base.copy(),
        planned_base=np.empty(shape, np.int64),
        released_base=np.zeros(shape, np.int64),
        spoiled_base=np.zeros(shape, np.int64),
        late_base=np.zeros(shape[0], np.int64),
        begun=np.zeros((2 * shape[0], shape[1]), np.int64),
    )
    depth = int(inputs.levels[-1]) + 1 if shape[0] else 0
    bounds = np.searchsorted(inputs.levels, np.arange(depth + 1))
    ends = np.searchsorted(inputs.levels[inputs.lines.parent], np.arange(depth + 1))
    for level in range(depth):
        rows = slice(int(bounds[level]), int(bounds[level + 1]))
        _plan(inputs, found, rows)
        lines = inputs.lines.of(slice(int(ends[level]), int(ends[level + 1])))
        if len(lines.parent):
            rows = slice(rows.start, int(lines.parent.max()) + 1)
            _begin(inputs, found, rows)
            _explode(lines, found, rows)
    return found


def net_base(inputs: PlanningInputs, found: Requirements, rows: Any) -> Whole:
    """What neither stock, nor anything open, nor an earlier planned order covers, of some items."""
    needed = _needed(inputs, found, rows) - _spare(inputs, rows)[:, None]
    before = np.cumsum(found.planned_base[rows], axis=1) - found.planned_base[rows]
    net: Whole = np.maximum(needed - before, 0)
    return net


def projected_base(inputs: PlanningInputs, found: Requirements, rows: Any) -> Whole:
    """Usable on hand at the end of each week, of some items, if all comes when it shall.

    Below zero: short until a receipt inside the lead time, which no new order could overtake.
    """
    came = inputs.receipts_base[rows] + found.planned_base[rows] - found.gross_base[rows]
    on_hand = inputs.on_hand_base[rows, None] - found.spoiled_base[rows]
    found_base: Whole = on_hand + np.cumsum(came, axis=1)
    return found_base


def needs_base(lines: Lines, started_base: Whole, batches: Whole) -> Whole:
    """What lines take, `(lines, weeks)`, each rounded up: one short cannot be finished.

    Args:
        lines: The lines.
        started_base: Of each line's parent.
        batches: Of each line's parent.
    """
    most = started_base.max(axis=1, initial=0)
    is_wide = most.astype(np.float64) * lines.num >= PRODUCT_MAX
    needs = started_base * np.where(is_wide, 0, lines.num)[:, None]
    parts = np.flatnonzero(lines.den != 1)
    den = lines.den[parts, None]
    needs[parts] = _rounded_up(needs[parts], den)
    for wide in np.flatnonzero(is_wide):
        num, den_one = int(lines.num[wide]), int(lines.den[wide])
        exact = [-(-pieces * num // den_one) for pieces in started_base[wide].tolist()]
        _refuse_uncountable(max(exact))
        needs[wide] = exact
    once = np.flatnonzero(lines.per_batch_base)
    needs[once] += lines.per_batch_base[once, None] * batches[once]
    return needs


def _plan(inputs: PlanningInputs, found: Requirements, rows: slice) -> None:
    """Net, and orders, of one level's items."""
    _spoil(inputs, found, rows)
    needed = _needed(inputs, found, rows)
    net = found.planned_base[rows]
    net[:, 0] = needed[:, 0] - _spare(inputs, rows)
    np.subtract(needed[:, 1:], needed[:, :-1], out=net[:, 1:])
    planned = orders(net, inputs.sizing.of(rows))
    if planned is not net:
        found.planned_base[rows] = planned
    _release(inputs, found, rows)


def _spare(inputs: PlanningInputs, rows: Any) -> Whole:
    """On hand beyond the safety stock; below zero: short of it."""
    spare: Whole = inputs.on_hand_base[rows] - inputs.safety_base[rows]
    return spare


def _needed(inputs: PlanningInputs, found: Requirements, rows: Any) -> Whole:
    """What must have come until each week, at least what is to spare; never falling."""
    needed = np.cumsum(found.gross_base[rows], axis=1)
    spoils = np.flatnonzero(inputs.ending_base[rows].any(axis=1))
    if len(spoils):
        needed[spoils] += found.spoiled_base[rows][spoils]
    receipts = inputs.receipts_base[rows]
    comes = np.flatnonzero(receipts.any(axis=1))
    if len(comes):
        needed[comes] -= _counted(receipts[comes], inputs.lead_weeks[rows][comes])
    np.maximum(needed[:, 0], _spare(inputs, rows), out=needed[:, 0])
    never_falling: Whole = np.maximum.accumulate(needed, axis=1, out=needed)
    return never_falling


def _spoil(inputs: PlanningInputs, found: Requirements, rows: slice) -> None:
    """What of the stock is past its use, first expired first out.

    By the end of a week that is the most by which what has ended exceeds what was taken: stock
    once taken up does not end any more.
    """
    ending = inputs.ending_base[rows]
    which = np.flatnonzero(ending.any(axis=1))
    if len(which):
        over = np.cumsum(ending[which] - found.gross_base[rows][which], axis=1)
        gone = np.maximum.accumulate(np.maximum(over, 0), axis=1)
        found.spoiled_base[rows.start + which, 1:] = gone[:, :-1]


def _counted(receipts_base: Whole, lead_weeks: Whole) -> Whole:
    """Receipts until each week; those inside the lead time count at once.

    A new order could not come before them, so what is short until then is to be hurried, not
    ordered again.
    """
    came = np.cumsum(receipts_base, axis=1)
    last = np.minimum(lead_weeks, came.shape[1] - 1)
    counted: Whole = np.maximum(came, came[np.arange(len(came)), last][:, None])
    return counted


def _release(inputs: PlanningInputs, found: Requirements, rows: slice) -> None:
    """When what must come is placed or begun: the lead time before, this week at the earliest."""
    planned = found.planned_base[rows]
    released, late_base = found.released_base[rows], found.late_base[rows]
    span = planned.shape[1]
    lead = np.minimum(inputs.lead_weeks[rows], span)
    for weeks in np.unique(lead).tolist():
        which = np.flatnonzero(lead == weeks)
        released[which, : span - weeks] = planned[which, weeks:]
        late_base[which] = planned[which, :weeks].sum(axis=1)
    released[:, 0] += late_base


def _begin(inputs: PlanningInputs, found: Requirements, rows: slice) -> None:
    """Pieces started and batches, of items that are made."""
    released = found.released_base[rows]
    num, den = inputs.good_num[rows], inputs.good_den[rows]
    _refuse_uncountable(float(released.max(initial=0)) * float(den.max()), most=PRODUCT_MAX)
    is_whole = (num == den).all()
    started = released if is_whole else _rounded_up(released * den[:, None], num[:, None])
    found.started_base[rows] = started
    found.batches[rows] = released > 0
    fixed = np.flatnonzero(inputs.sizing.method[rows] == METHODS.index(LotSizing.FIXED))
    lot = inputs.sizing.lot_base[rows][fixed, None]
    found.batches[rows.start + fixed] = -(-released[fixed] // lot)


def _explode(lines: Lines, found: Requirements, rows: slice) -> None:
    """What a level's lines take, onto the items below.

    Of whole base units a piece, and of what goes once a batch, it is a product of a sparse matrix.
    """
    most = found.started_base[rows].max(axis=1, initial=0)[lines.parent - rows.start]
    taken = most * (lines.num / lines.den)
    taken += most.astype(np.float64) * lines.per_batch_base
    _refuse_uncountable(float(np.bincount(lines.child, taken).max(initial=0)))
    is_whole = lines.den == 1
    whole, parts = lines.of(is_whole), lines.of(~is_whole)
    once = whole.of(whole.per_batch_base > 0)
    child = np.append(whole.child, once.child)
    order = np.argsort(child, kind="stable")
    column = np.append(whole.parent, once.parent + len(found.gross_base))
    factor = np.append(whole.num, once.per_batch_base)
    _add(found, child[order], column[order], factor[order], found.begun)
    needs = needs_base(parts, found.started_base[parts.parent], found.batches[parts.parent])
    every = np.arange(len(needs))
    _add(found, parts.child, every, np.ones_like(every), needs)


def _add(found: Requirements, child: Whole, column: Whole, factor: Whole, rows: Whole) -> None:
    """Rows times factors, summed by child; equal children stand together."""
    firsts = np.flatnonzero(np.diff(child, prepend=-1))
    if len(firsts):
        shape = (len(firsts), len(rows))
        matrix = csr_array((factor, column, np.append(firsts, len(child))), shape=shape)
        found.gross_base[child[firsts]] += matrix @ rows


def _rounded_up(number_base: Whole, by: Whole) -> Whole:
    """A quotient of numbers >= 0, rounded up.

    Below 2**52 the one of floating point is as exact, and quicker: what is no whole number lies at
    least 1 / by away from one, and that is more than it can be off.
    """
    if number_base.max(initial=0) < _FLOAT_EXACT:
        return np.ceil(number_base / by).astype(np.int64)
    return -(-number_base // by)


def _refuse_uncountable(found: float, *, most: float = AMOUNT_MAX) -> None:
    if found >= most:
        raise InvalidInputError(
            "The plan takes more of something than can be counted. Look for a slip in its pieces."
        )
