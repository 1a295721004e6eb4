"""How many pieces of a lot are to be tested now."""

from __future__ import annotations

from itertools import takewhile
from typing import NamedTuple

from django.db.models import BigIntegerField

from batches.quality.models import Check, CheckDefinition, CheckKind, HowMany, Severity
from batches.quality.rules.plans import (
    RUN_KEPT,
    Outcome,
    Plan,
    accepted_ratio_lot,
    characteristic,
    every,
    fixed,
    is_stopped,
    next_severity,
    sampled,
)
from batches.quality.selectors.definitions import definition_row
from batches.quality.selectors.made import made_by_batch, made_by_lot, refuse_elsewhere
from batches.runs.models import EntryTally
from shopfloor.prepared import Given, Prepared

LOT_SHARES = (0.01, 0.02, 0.05, 0.10, 0.20)


class CurvePoint(NamedTuple):
    """How bad a process is whose lots pass so often."""

    accepted_ratio: float
    failing_ratio: float


class LotPoint(NamedTuple):
    """How often this very lot would pass with so many failing pieces in it."""

    failing_pieces: int
    accepted_ratio: float


class PlanRow(NamedTuple):
    """What to test of a lot, or of all that a batch made; and what passes."""

    definition: str
    lot: str | None
    batch: str
    lot_pieces: int
    test_pieces: int
    accept: int
    reject: int
    letter: str
    severity: str
    is_all: bool
    is_stopped: bool
    curve: list[CurvePoint]
    of_this_lot: list[LotPoint]
    stations: list[str]


def plan_of(definition: CheckDefinition, pieces: int) -> tuple[Plan, bool]:
    """The plan for a lot of so many pieces, and whether sampling should stop. One statement."""
    if definition.how_many == HowMany.ALL:
        return every(lot_size=pieces, accept=definition.accept_pieces), False
    if definition.how_many == HowMany.FIXED:
        size = definition.fixed_pieces or 1
        return fixed(lot_size=pieces, size=size, accept=definition.accept_pieces), False
    severity, run = _run(definition)
    now = next_severity(severity, run, may_reduce=definition.may_reduce)
    plan = sampled(lot_size=pieces, level=definition.level, aql=definition.aql, severity=now)
    return plan, is_stopped(severity, run)


def plan_row(*, definition: str, lot: str = "", batch: str = "") -> PlanRow:
    """How many to test of a lot now, or of all that a batch made: one of the two. Five statements.

    Raises:
        NotFoundError: no such definition, lot or batch.
        CheckElsewhereError, NothingToCheckError: it is not checked so.
    """
    found = definition_row(definition)
    made = made_by_lot(lot) if lot else made_by_batch(batch)
    refuse_elsewhere(found, made)
    plan, stopped = plan_of(found, made.pieces)
    counts_flaws = found.kind == CheckKind.FLAWS
    failing = sorted({max(1, round(share * made.pieces)) for share in LOT_SHARES})
    return PlanRow(
        definition=found.code,
        lot=lot or None,
        batch=made.batch.code,
        lot_pieces=made.pieces,
        test_pieces=plan.size,
        accept=plan.accept,
        reject=plan.reject,
        letter=plan.letter,
        severity=plan.severity,
        is_all=plan.is_all,
        is_stopped=stopped,
        curve=[CurvePoint(*point) for point in characteristic(plan, counts_flaws=counts_flaws)],
        of_this_lot=[]
        if counts_flaws or made.is_mixture
        else [
            LotPoint(
                bad,
                accepted_ratio_lot(
                    lot_size=made.pieces, size=plan.size, accept=plan.reject - 1, failing=bad
                ),
            )
            for bad in failing
        ],
        stations=_stations(made.entry_id),
    )


def _stations(entry_id: int | None) -> list[str]:
    """Cavities or stations that the good pieces of an entry came from."""
    good = EntryTally.objects.filter(entry_id=entry_id, equipment__isnull=False).exclude(grade="")
    return sorted(set(good.values_list("equipment__code", flat=True)))


def _run(definition: CheckDefinition) -> tuple[str, list[Outcome]]:
    """The severity last used, and the first checks of lots since it came into force."""
    rows = _latest(definition_id=definition.pk)
    if not rows:
        return Severity.NORMAL, []
    severity = rows[0][0]
    same = list(takewhile(lambda row: row[0] == severity, rows))
    return severity, [Outcome(*row[1:]) for row in reversed(same)]


_latest = Prepared(
    lambda: (
        Check.objects.filter(
            definition=Given("definition_id", BigIntegerField()),
            is_first=True,
            replaced_by__isnull=True,
        )
        .exclude(severity="")
        .order_by("-pk")
        .values_list("severity", "accept", "reject", "failed", "is_marginal")[:RUN_KEPT]
    )
)
