"""How many pieces to test, what passes, when to look closer, and how often a plan lets bad ones by.

Single sampling after MIL-STD-105E; its tables are in `plan_tables`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from batches.quality.rules.plan_tables import (
    LETTERS,
    REDUCED_SIZES,
    SIZES,
    cell,
    letter_row,
)

SEVERITIES: Final = ("normal", "tightened", "reduced")
"""How closely lots are looked at now."""

ACCEPTED_RATIOS: Final = (0.99, 0.95, 0.90, 0.75, 0.50, 0.25, 0.10, 0.05, 0.01)
"""Where an operating characteristic is told, as in the standard's Table X."""

RUN_KEPT: Final = 20
"""Latest lots of one severity that decide the next: reduced needs at most 15."""

_REJECTED_OF: Final = 5
_REJECTED_MAX: Final = 2
_ACCEPTED_RUN: Final = 5
_TIGHTENED_RUN: Final = 10
_SCORE_REDUCED: Final = 30
_SCORE_SMALL: Final = 2
_SCORE: Final = 3
_SMALL_ACCEPT: Final = 1  # acceptance numbers up to here score by passing alone
_HALVINGS: Final = 60


@dataclass(frozen=True, slots=True)
class Plan:
    """How many to test, and what passes.

    Attributes:
        size: Pieces to test, at least 1.
        accept: Most failing pieces (or flaws) with which the lot passes.
        reject: Fewest with which it fails; above `accept` + 1 on reduced inspection alone.
        letter: Code letter of the plan; empty where it is not of the standard's tables.
        severity: One of `SEVERITIES`; empty likewise.
        is_all: Every piece of the lot is tested.
    """

    size: int
    accept: int
    reject: int
    letter: str = ""
    severity: str = ""
    is_all: bool = False


class Outcome(NamedTuple):
    """What one lot's first check said.

    Attributes:
        failed: Failing pieces, or flaws.
        is_marginal: It would have failed one step of quality tighter.
    """

    accept: int
    reject: int
    failed: int
    is_marginal: bool = False

    @property
    def is_passed(self) -> bool:
        """Whether the lot passed."""
        return self.failed < self.reject


class Point(NamedTuple):
    """A point of an operating characteristic, both 0 to 1 (flaws a piece may be above 1)."""

    accepted_ratio: float
    failing_ratio: float


def sampled(*, lot_size: int, level: str, aql: str, severity: str) -> Plan:
    """The standard's plan for a lot; all of it where the sample would be as large.

    Where the lot is smaller than the sample no piece may fail: the standard's number is for more
    pieces than there are. That is ours, no source.

    Args:
        lot_size: Pieces, at least 1.
        level: One of `plan_tables.LEVELS`.
        aql: One of `plan_tables.AQLS`.
        severity: One of `SEVERITIES`.

    Source: MIL-STD-105E, 4.9 to 4.10, Tables I and II.
    """
    found = cell(row=letter_row(lot_size=lot_size, level=level), aql=aql, severity=severity)
    size = (REDUCED_SIZES if severity == "reduced" else SIZES)[found.row]
    is_short = lot_size < size
    return Plan(
        size=lot_size if is_short else size,
        accept=0 if is_short else found.accept,
        reject=1 if is_short else found.reject,
        letter=LETTERS[found.row],
        severity=severity,
        is_all=size >= lot_size,
    )


def fixed(*, lot_size: int, size: int, accept: int = 0) -> Plan:
    """The same number of every lot, whatever its size; all of a lot that has no more."""
    assert lot_size >= 1
    assert size >= 1
    size = min(size, lot_size)
    accept = min(accept, size - 1)  # a plan that all pieces may fail is none
    return Plan(size=size, accept=accept, reject=accept + 1, is_all=size == lot_size)


def every(*, lot_size: int, accept: int = 0) -> Plan:
    """Every piece of the lot."""
    return fixed(lot_size=lot_size, size=lot_size, accept=accept)


def is_failed(plan: Plan, failed: int) -> bool:
    """Whether a lot fails; between accept and reject, on reduced inspection, it passes."""
    return failed >= plan.reject


def next_severity(severity: str, run: Sequence[Outcome], *, may_reduce: bool) -> str:
    """How closely the next lot is looked at.

    Args:
        severity: Of the lots in `run`, the one in force.
        run: First checks of lots since it came into force, oldest first; the last `RUN_KEPT` do.
        may_reduce: Production is steady, and a lead allows reduced inspection.

    Source: MIL-STD-105E, 4.7.1 to 4.7.4, from memory: tightened when 2 of 5 lots in a row fail,
    normal again after 5 in a row that pass; from reduced back to normal with a lot that fails or
    stands between accept and reject. Reduced begins at a score of 30 in place of the standard's
    limit numbers (Table VIII), which were not at hand: 2 for a lot that passes a plan of 0 or 1
    failing pieces, 3 for one that would have passed one step tighter, none after any other
    (ISO 2859-1:1999, 9.3.3, from memory).
    """
    if severity == "tightened":
        passed = [each.is_passed for each in run[-_ACCEPTED_RUN:]]
        return "normal" if len(passed) == _ACCEPTED_RUN and all(passed) else "tightened"
    if severity == "reduced":
        is_broken = any(each.failed > each.accept for each in run)
        return "normal" if is_broken or not may_reduce else "reduced"
    if sum(not each.is_passed for each in run[-_REJECTED_OF:]) >= _REJECTED_MAX:
        return "tightened"
    return "reduced" if may_reduce and _score(run) >= _SCORE_REDUCED else "normal"


def is_stopped(severity: str, run: Sequence[Outcome]) -> bool:
    """Whether sampling ends until the cause is found: ten lots in a row stayed on tightened.

    Source: MIL-STD-105E, 4.8, from memory.
    """
    stays = next_severity(severity, run, may_reduce=False) == "tightened"
    return severity == "tightened" and len(run) >= _TIGHTENED_RUN and stays


def is_marginal(*, lot_size: int, level: str, aqls: Sequence[str], aql: str, failed: int) -> bool:
    """Whether a lot would have failed one step of quality tighter; not so at the tightest."""
    place = aqls.index(aql)
    if place == 0:
        return False
    tighter = sampled(lot_size=lot_size, level=level, aql=aqls[place - 1], severity="normal")
    return failed > tighter.accept


def _score(run: Sequence[Outcome]) -> int:
    score = 0
    for each in run:
        if not each.is_passed:
            score = 0
        elif each.accept <= _SMALL_ACCEPT:
            score += _SCORE_SMALL
        else:
            score = 0 if each.is_marginal else score + _SCORE
    return score


def accepted_ratio(*, size: int, accept: int, failing_ratio: float) -> float:
    """Chance that a lot of a running process passes, by the binomial distribution.

    Args:
        size: Pieces tested.
        accept: Most failing pieces with which a lot passes.
        failing_ratio: Share of failing pieces, 0 to 1.
    """
    assert 0 <= failing_ratio <= 1
    good_ratio = 1 - failing_ratio
    most = min(accept, size)
    return min(
        1.0,
        math.fsum(
            math.comb(size, bad) * failing_ratio**bad * good_ratio ** (size - bad)
            for bad in range(most + 1)
        ),
    )


def accepted_ratio_flaws(*, size: int, accept: int, flaws_a_piece: float) -> float:
    """Chance that a lot passes where flaws are counted, by the Poisson distribution."""
    mean = size * flaws_a_piece
    term = total = math.exp(-mean)
    for flaws in range(1, accept + 1):
        term *= mean / flaws
        total += term
    return min(1.0, total)


def accepted_ratio_lot(*, lot_size: int, size: int, accept: int, failing: int) -> float:
    """Chance that this one lot passes, with so many failing pieces in it: hypergeometric, exact."""
    assert 0 <= failing <= lot_size
    assert 0 < size <= lot_size
    most = min(accept, size, failing)
    ways = sum(
        math.comb(failing, bad) * math.comb(lot_size - failing, size - bad)
        for bad in range(most + 1)
    )
    return ways / math.comb(lot_size, size)


def characteristic(plan: Plan, *, counts_flaws: bool = False) -> list[Point]:
    """How bad a process is whose lots pass so often; the plan's operating characteristic.

    Reduced inspection passes below `reject`, so its curve is that of reject - 1.
    """
    accept = plan.reject - 1
    return [
        Point(ratio, _failing_ratio(plan.size, accept, ratio, counts_flaws=counts_flaws))
        for ratio in ACCEPTED_RATIOS
    ]


def _failing_ratio(size: int, accept: int, wanted: float, *, counts_flaws: bool) -> float:
    """By halving: the chance falls as the share rises."""
    low = 0.0
    high = (accept + 10.0) * 3 / size if counts_flaws else 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if counts_flaws:
            chance = accepted_ratio_flaws(size=size, accept=accept, flaws_a_piece=middle)
        else:
            chance = accepted_ratio(size=size, accept=accept, failing_ratio=middle)
        low, high = (middle, high) if chance > wanted else (low, middle)
    return (low + high) / 2
